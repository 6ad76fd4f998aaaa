"""A throw-away PostgreSQL: made, started, ended and taken away again. It refuses to run as root, so another user does there."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

INSTALL = "PostgreSQL is wanted: apt-get install postgresql (initdb and postgres are looked for in PATH and /usr/lib/postgresql)"
_USER = "nobody"


def program(name: str) -> str | None:
    """Path of one of PostgreSQL's programs; the newest of several."""
    beside = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: int(path.parts[4]))
    return shutil.which(name) or (str(beside[-1]) if beside else None)


def is_there() -> bool:
    return program("initdb") is not None and program("postgres") is not None


@dataclass
class Cluster:
    """A cluster of its own, on a port of its own."""

    folder: Path
    port: int
    running: subprocess.Popen[bytes] | None = field(default=None)

    def url(self, database: str = "postgres") -> str:
        return f"postgresql://speedworth@127.0.0.1:{self.port}/{database}"

    def start(self) -> None:
        quick = ("fsync=off", "synchronous_commit=off", "full_page_writes=off", "unix_socket_directories=", "max_connections=200")
        options = [part for setting in quick for part in ("-c", setting)]
        command = [str(program("postgres")), "-D", str(self.folder / "data"), "-p", str(self.port), "-h", "127.0.0.1", *options]
        with (self.folder / "log").open("ab") as log:
            self.running = subprocess.Popen(command, stdout=log, stderr=log, start_new_session=True, **_as_nobody())
        until = time.monotonic() + 60
        while not self._listens():
            if self.running.poll() is not None or time.monotonic() > until:
                raise AssertionError((self.folder / "log").read_text(errors="replace")[-2000:])
            time.sleep(0.05)

    def _listens(self) -> bool:
        """Whether it answers; a connection alone is taken before it has recovered."""
        told = subprocess.run(
            [str(program("pg_isready") or program("psql")), "-q", "-h", "127.0.0.1", "-p", str(self.port), "-d", "postgres"],
            capture_output=True, check=False, stdin=subprocess.DEVNULL,
        ) if program("pg_isready") else None  # fmt: skip
        if told is not None:
            return told.returncode == 0
        with suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
            return True
        return False

    def stop(self) -> None:
        """End it at once, as a machine does that loses its power."""
        if self.running is not None:
            self.running.send_signal(signal.SIGQUIT)
            self.running.wait(30)
            self.running = None


def _as_nobody() -> dict[str, Any]:
    return {"user": _USER, "group": "nogroup", "extra_groups": [], "cwd": "/"} if os.geteuid() == 0 else {"cwd": "/"}


@contextmanager
def cluster() -> Iterator[Cluster]:
    with tempfile.TemporaryDirectory(prefix="speedworth-postgres-", dir="/tmp") as made:
        folder = Path(made)
        if os.geteuid() == 0:
            shutil.chown(folder, _USER, "nogroup")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = int(free.getsockname()[1])
        options = [
            "-D",
            str(folder / "data"),
            "-U",
            "speedworth",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C",
            "--no-sync",
            "--no-instructions",
        ]
        subprocess.run([str(program("initdb")), *options], check=True, capture_output=True, **_as_nobody())
        one = Cluster(folder, port)
        (folder / "log").touch()
        one.start()
        try:
            yield one
        finally:
            one.stop()
