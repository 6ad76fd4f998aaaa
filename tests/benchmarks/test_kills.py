"""Two hundred kills, spread over a run, an erasure, a backup, a restore and a rebuild, and a disk that is full at forty points.

Each command runs in a process of its own on a copy of a small academy and is ended by the system at a random moment, or finds
that no file can grow beyond a size. Whatever is left, the next start makes it whole: the same rows and pages, no half file.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, run_night
from pipelines.settings import default_settings
from pipelines.stages.backup import back_up
from pipelines.stages.doctor import examine
from pipelines.workspace import Workspace, create_workspace
from tests.flow.conftest import NIGHT, drop
from tests.flow.test_every_command import HALF
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

PARENT = """
import json, os, resource, signal, sys
from pipelines.cli.main import main
import pipelines.runs, pipelines.stages.rebuild, pipelines.stages.restore
for line in sys.stdin:
    job = json.loads(line)
    child = os.fork()
    if not child:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1), os.dup2(silent, 2)
        if job["size"]:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (job["size"], job["size"]))
        if job["delay"]:
            signal.setitimer(signal.ITIMER_REAL, job["delay"])
        try:
            code = main(job["words"])
        except BaseException:
            code = 99
        os._exit(code)
    print(json.dumps(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])), flush=True)
"""
"""Imports everything once, and forks before any thread is started: a command then takes as long as its work."""

KILLS = {"run": 90, "player erase": 30, "backup": 20, "restore": 30, "rebuild": 30}
FULL = {"run": 10, "player erase": 6, "backup": 8, "restore": 8, "rebuild": 8}
TABLES = ("player", "session", "shot", "checkin", "file", "problem")


@contextmanager
def starter() -> Iterator[Callable[..., int]]:
    with subprocess.Popen([sys.executable, "-c", PARENT], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdin is not None
        assert parent.stdout is not None

        def start(*words: object, delay: float = 0.0, size: int = 0) -> int:
            parent.stdin.write(json.dumps({"words": [str(word) for word in words], "delay": delay, "size": size}) + "\n")
            parent.stdin.flush()
            return int(parent.stdout.readline())

        yield start
        parent.stdin.close()


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A workspace before its first run, one after it with a backup, one without a warehouse, and one without a player."""
    root = tmp_path_factory.mktemp("kills")
    waiting = create_workspace(root / "waiting", default_settings("Lakeside", "Europe/Berlin"))
    drop(waiting)
    for name, key in ((".site-key", b"k"), (".id-key", b"i"), (".backup-key", b"b")):
        (waiting.root / name).write_bytes(key * 32)
    shutil.copytree(waiting.root, root / "ready")
    ready = Workspace(root / "ready")
    run_night(Night(ready, NIGHT))
    back_up(ready, NIGHT)
    shutil.copytree(ready.root, root / "lost")
    (root / "lost" / "academy.duckdb").unlink()
    return {"waiting": waiting.root, "ready": ready.root, "lost": root / "lost"}


def state(root: Path) -> tuple[dict[str, int], dict[str, bytes]]:
    """Rows by table, and the pages of coach, physio and players."""
    with open_warehouse(root / "academy.duckdb", read_only=True) as con:
        rows = {table: int(scalar(con, f'select count(*) from "{table}"')) for table in TABLES}
    pages = (path for name in ("coach", "physio", "players") for path in (root / "site" / name).rglob("*.html"))
    return rows, {str(path.relative_to(root)): path.read_bytes() for path in pages if path.name != "index.html"}


def command(name: str, root: Path) -> tuple[str, list[str]]:
    """Which place a command begins from, and its words."""
    copies = sorted((root / "backups").glob("speedworth-*"))
    words = {
        "run": ["run"], "player erase": ["player", "erase", "heron", "--yes"], "backup": ["backup", "--plain"],
        "restore": ["restore", str(copies[0]) if copies else ""], "rebuild": ["rebuild"],
    }[name]  # fmt: skip
    return {"run": "waiting", "rebuild": "lost"}.get(name, "ready"), [*words, "-w", str(root)]


def made_whole(name: str, root: Path, start: Callable[..., int], words: list[str]) -> None:
    """What a person does next: the next run; a rebuild that was ended, and an erasure that had not begun, are asked for again."""
    if name == "rebuild" and not (root / "academy.duckdb").exists():
        assert start(*words) == 0
    if name == "player erase":
        assert start(*words) in {0, 10}
    assert start("run", "-w", root) == 0


def tried(name: str, places: dict[str, Path], root: Path, start: Callable[..., int], **trouble: float) -> int:
    shutil.copytree(places[command(name, root)[0]], root)
    _, words = command(name, root)
    code = start(*words, **trouble)
    assert code != 99, "a fault that nobody made a line of"
    made_whole(name, root, start, words)
    return code


def reference(name: str, places: dict[str, Path], root: Path, start: Callable[..., int]) -> tuple[float, object]:
    """How long a command takes when all of it is in memory, as it is at each later try, and the state that it leads to."""
    times = []
    for at in range(3):
        shutil.rmtree(root, ignore_errors=True)
        shutil.copytree(places[command(name, root)[0]], root)
        _, words = command(name, root)
        begun = time.perf_counter()
        assert start(*words) == 0, f"try {at}"
        times.append(time.perf_counter() - begun)
    assert start("run", "-w", root) == 0
    return min(times), state(root)


def assert_whole(root: Path, wanted: object) -> None:
    assert state(root) == wanted
    assert [path.name for pattern in HALF for path in root.rglob(pattern)] == []
    assert [finding for finding in examine(Workspace(root)) if finding.state == "broken"] == []
    shutil.rmtree(root)


@pytest.mark.benchmark
@pytest.mark.parametrize("name", KILLS)
def test_killed_at_any_moment(name: str, places: dict[str, Path], tmp_path: Path) -> None:
    moments = random.Random(15)  # noqa: S311 - the same moments each time, as far as a machine keeps time
    with starter() as start:
        took, wanted = reference(name, places, tmp_path / "reference", start)
        n_killed = 0
        for at in range(KILLS[name]):
            delay = moments.uniform(0.001, took)
            n_killed += tried(name, places, tmp_path / f"{at}", start, delay=delay) < 0
            assert_whole(tmp_path / f"{at}", wanted)
    print(f"\n{name}: {KILLS[name]} tries over {took:.2f} s, {n_killed} killed before the end, all whole")  # noqa: T201


@pytest.mark.benchmark
@pytest.mark.parametrize("name", FULL)
def test_full_at_any_point(name: str, places: dict[str, Path], tmp_path: Path) -> None:
    with starter() as start:
        _, wanted = reference(name, places, tmp_path / "reference", start)
        n_refused = 0
        for at in range(FULL[name]):
            size = int(16 * 2 ** (20 * at / FULL[name]))
            n_refused += tried(name, places, tmp_path / f"{at}", start, size=size) != 0
            assert_whole(tmp_path / f"{at}", wanted)
    print(f"\n{name}: full at {FULL[name]} sizes, {n_refused} refused in one line, all whole")  # noqa: T201
