"""The embedded Prefect server: found when one answers, otherwise started on loopback as a child and stopped at the end."""

from __future__ import annotations

import os
import secrets
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from typing import TYPE_CHECKING
from urllib.error import URLError

from schemas.errors import ScheduleError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

    from pipelines.workspace import Workspace

_HOST = "127.0.0.1"
_START_S = 90.0
_STOP_S = 15.0
_LOOK_S = 0.2


def offline_environment(home: Path) -> dict[str, str]:
    """Settings under which Prefect keeps its data in the folder ``home`` and tells nobody of what it does."""
    return {
        "DO_NOT_TRACK": "1",
        "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
        "PREFECT_CLOUD_ENABLE_ORCHESTRATION_TELEMETRY": "false",
        "PREFECT_TELEMETRY_ENABLE_RESOURCE_METRICS": "false",
        "PREFECT_HOME": str(home.resolve()),
        "PREFECT_SERVER_ALLOW_EPHEMERAL_MODE": "false",
        "PREFECT_SERVER_LOGGING_LEVEL": "CRITICAL",
        "PREFECT_LOGGING_LEVEL": "WARNING",
    }


def closed_environment(secret: str, origin: str) -> dict[str, str]:
    """Settings of a server that answers only who knows ``secret``, shows no pages, and is asked by no page of another origin."""
    return {
        "PREFECT_SERVER_API_AUTH_STRING": secret,
        "PREFECT_API_AUTH_STRING": secret,
        "PREFECT_SERVER_CORS_ALLOWED_ORIGINS": origin,
        "PREFECT_SERVER_UI_ENABLED": "false",
    }


def _closed(api_url: str) -> dict[str, str]:
    """Settings by which only processes that were given this start's secret may ask the server for anything.

    They reach the server, the runner and its children through their environment, which other users of the machine cannot read.
    """
    secret = f"speedworth:{secrets.token_urlsafe(32)}"
    return {**closed_environment(secret, api_url.removesuffix("/api")), "PREFECT_API_URL": api_url}


def answers(api_url: str) -> bool:
    """Whether a Prefect server answers at this address."""
    try:
        with urllib.request.urlopen(f"{api_url}/health", timeout=2) as reply:  # noqa: S310 - our own loopback address, or the user's
            return bool(reply.status == 200)
    except (URLError, OSError):
        return False


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((_HOST, 0))
        return int(probe.getsockname()[1])


@contextmanager
def prefect_server(workspace: Workspace) -> Iterator[str]:
    """Address of a Prefect API, within the block: the one that PREFECT_API_URL names, or a child of this process.

    Raises
    ------
    ScheduleError
        When the named server does not answer, or the child does not start.
    """
    os.environ.update(offline_environment(workspace.root / ".prefect"))
    named = os.environ.get("PREFECT_API_URL", "")
    if named:
        if not answers(named):
            raise ScheduleError(
                f"No Prefect server answers at {named}.", "Start it, or unset PREFECT_API_URL to use the built-in one."
            )
        yield named
        return
    api_url = f"http://{_HOST}:{_free_port()}/api"
    closed = _closed(api_url)
    os.environ.update(closed)
    child = start_closed_server(_HOST, int(api_url.removesuffix("/api").rpartition(":")[2]))
    try:
        otherwise = ScheduleError(
            "The timetable's server does not start.",
            "Look whether the disk is full, and whether another program uses the port; then start again.",
        )
        wait_until(lambda: answers(api_url), child, _START_S, otherwise)
        yield api_url
    finally:
        for name in closed:
            os.environ.pop(name, None)
        stop_child(child)


def start_closed_server(
    host: str, port: int, *options: str, environment: Mapping[str, str] | None = None
) -> subprocess.Popen[bytes]:
    """The server of :mod:`pipelines.flows.closed_server` as a child, with the settings of this process or of ``environment``."""
    # A session of its own: Ctrl-C reaches only this process, which then stops the child in order.
    return subprocess.Popen(  # noqa: S603 - fixed words, and what settings say
        [sys.executable, "-m", "pipelines.flows.closed_server", host, str(port), *options],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True, env=environment,
    )  # fmt: skip


def wait_until(is_ready: Callable[[], bool], child: subprocess.Popen[bytes], most_s: float, otherwise: ScheduleError) -> None:
    """Wait for a child to be ready; raise ``otherwise`` when it ends before, or takes longer than ``most_s``."""
    until = time.monotonic() + most_s
    while not is_ready():
        if child.poll() is not None or time.monotonic() > until:
            raise otherwise
        time.sleep(_LOOK_S)


def stop_child(child: subprocess.Popen[bytes]) -> None:
    """Ask a child process to end, and end it when it does not within a quarter of a minute."""
    child.terminate()
    try:
        child.wait(_STOP_S)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()
