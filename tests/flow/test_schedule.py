"""The timetable with a real Prefect server, and the flows when somebody asks them himself."""

from __future__ import annotations

import base64
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import suppress
from dataclasses import dataclass, field
from http import HTTPStatus
from pathlib import Path
from typing import TYPE_CHECKING, Any

import psutil
import pytest

from pipelines.cli.desk import desk_beside
from pipelines.flows import server
from pipelines.flows.server import answers, prefect_server, stop_child
from schemas.errors import ScheduleError, WorkspaceError
from tests.broad import BROAD
from tests.flow.conftest import waiting
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from pipelines.workspace import Workspace

ROOT = Path(__file__).parents[2]
PATIENCE_S = 90.0


def asked(api_url: str, path: str, body: dict[str, Any], secret: str, method: str = "POST") -> list[dict[str, Any]]:
    """The server's answer; while another writes to its store it says 503, and is asked again, as its own client does."""
    headers = {"content-type": "application/json", "authorization": f"Basic {base64.b64encode(secret.encode()).decode()}"}
    request = urllib.request.Request(f"{api_url}/{path}", data=json.dumps(body).encode(), headers=headers, method=method)  # noqa: S310 - loopback
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            with urllib.request.urlopen(request, timeout=10) as reply:  # noqa: S310 - loopback
                found: list[dict[str, Any]] = json.loads(reply.read() or b"[]")
                return found
        except urllib.error.HTTPError as error:
            if error.code != HTTPStatus.SERVICE_UNAVAILABLE or time.monotonic() > until:
                raise
            time.sleep(0.5)


def address(serving: subprocess.Popen[str]) -> str:
    assert serving.stdout is not None
    for line in serving.stdout:
        told = re.search(r"API at (\S+);", line)
        if told:
            return told[1]
    raise AssertionError("the timetable did not begin")


def outside_connections(process: psutil.Process) -> set[str]:
    found = set()
    for one in (process, *process.children(recursive=True)):
        try:
            found |= {connection.raddr.ip for connection in one.net_connections() if connection.raddr}
        except psutil.NoSuchProcess:
            continue
    return found - {"127.0.0.1", "::1"}


def secret_of(process: psutil.Process) -> str:
    """The string that the server was started with, from its environment: only the same user and root can read it."""
    return next(
        found for child in process.children(recursive=True) if (found := child.environ().get("PREFECT_SERVER_API_AUTH_STRING"))
    )


def intruded(api_url: str, process: psutil.Process) -> dict[str, Any]:
    """What another user of the machine is told; the same user without the secret where the tests may not become another."""
    pids = [str(one.pid) for one in (process, *process.children(recursive=True))]
    command = [sys.executable, str(ROOT / "tests" / "flow" / "intrude.py"), api_url, *pids]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd="/")
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def finished_intakes(api_url: str, secret: str) -> list[dict[str, Any]]:
    runs = asked(api_url, "flow_runs/filter", {"flows": {"name": {"any_": ["intake"]}}}, secret)
    return [run for run in runs if run["state_type"] in {"COMPLETED", "FAILED", "CRASHED"}]


@dataclass
class Seen:
    """What was seen of a timetable with a desk from its start to its end."""

    workspace: Workspace
    outside: set[str] = field(default_factory=set)
    desk_status: int = 0
    runs: list[dict[str, Any]] = field(default_factory=list)
    deployments: list[dict[str, Any]] = field(default_factory=list)
    artifacts: list[dict[str, Any]] = field(default_factory=list)
    limits: list[dict[str, Any]] = field(default_factory=list)
    told: dict[str, Any] = field(default_factory=dict)
    bare: list[str] = field(default_factory=list)
    readable: list[Path] = field(default_factory=list)
    children: list[psutil.Process] = field(default_factory=list)
    by_hand: subprocess.CompletedProcess[str] | None = None
    rest: str = ""
    code: int | None = None
    still_answers: bool = True


def free_port() -> str:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return str(free.getsockname()[1])


def served(workspace: Workspace, port: str) -> subprocess.Popen[str]:
    words = ["schedule", "--desk", "--port", port, "-w", str(workspace.root)]
    return subprocess.Popen(
        [sys.executable, str(ROOT / "tests" / "flow" / "serve_quickly.py"), *words],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


def wait_for_an_intake(seen: Seen, process: psutil.Process, api_url: str, secret: str, port: str) -> None:
    until = time.monotonic() + PATIENCE_S
    while not (finished_intakes(api_url, secret) and seen.desk_status == 200) and time.monotonic() < until:
        seen.outside |= outside_connections(process)
        with suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{port}/enter", timeout=5) as reply:
            seen.desk_status = reply.status
        time.sleep(0.5)


def look(seen: Seen, process: psutil.Process, api_url: str, secret: str) -> None:
    seen.runs = finished_intakes(api_url, secret)
    seen.deployments = asked(api_url, "deployments/filter", {}, secret)
    for one in seen.deployments:  # each further run would be a process of its own
        asked(api_url, f"deployments/{one['id']}", {"paused": True}, secret, "PATCH")
    seen.artifacts = asked(api_url, "artifacts/filter", {}, secret)
    seen.limits = asked(api_url, "v2/concurrency_limits/filter", {}, secret)
    seen.told = intruded(api_url, process)
    commands = [" ".join(one.cmdline()) for one in (process, *process.children(recursive=True))]
    seen.bare = [command for command in commands if secret.partition(":")[2] in command]
    root = seen.workspace.root
    seen.readable = [path for path in root.rglob("*") if path.lstat().st_mode & 0o077 and "inbox" not in path.parts]
    seen.children = process.children(recursive=True)


def flows_by_hand(workspace: Workspace, api_url: str, secret: str) -> subprocess.CompletedProcess[str]:
    """The night and the review, asked of the flows themselves by another process that the server knows."""
    command = [sys.executable, str(ROOT / "tests" / "flow" / "run_flows.py"), str(workspace.root)]
    known = {"PYTHONPATH": str(ROOT), "PREFECT_API_URL": api_url, "PREFECT_API_AUTH_STRING": secret}
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, **known})


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory, migrated: Path) -> Seen:
    """One timetable for all that is asked of it: its server takes most of the time."""
    found = Seen(waiting(tmp_path_factory.mktemp("served"), migrated))
    port = free_port()
    serving = served(found.workspace, port)
    process = psutil.Process(serving.pid)
    try:
        api_url = address(serving)
        secret = secret_of(process)
        wait_for_an_intake(found, process, api_url, secret, port)
        look(found, process, api_url, secret)
        found.by_hand = flows_by_hand(found.workspace, api_url, secret)
    finally:
        serving.send_signal(signal.SIGTERM)
        found.rest, _ = serving.communicate(timeout=60)
    found.code = serving.returncode
    found.still_answers = answers(api_url)
    return found


@BROAD
def test_the_timetable_takes_files_in_and_leaves_artifacts(seen: Seen) -> None:
    assert [run["state_type"] for run in seen.runs] == ["COMPLETED"] * len(seen.runs)
    assert seen.runs
    assert all(run["auto_scheduled"] for run in seen.runs)
    assert len(seen.deployments) == 3
    assert "intake" in {artifact["key"] for artifact in seen.artifacts}
    assert [limit["limit"] for limit in seen.limits] == [1]
    with open_warehouse(seen.workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select count(*) from file") == 7


@BROAD
def test_nobody_else_is_told_anything_by_the_server(seen: Seen) -> None:
    told = seen.told
    assert seen.outside == set()
    assert {code for what, code in told.items() if " /api/" in what and "docs" not in what and "openapi" not in what} == {401}
    assert {
        told[f"GET {path}"] for path in ("/docs", "/openapi.json", "/ui-settings", "/api/docs", "/api/openapi.json", "/")
    } == {404}
    assert (told["other host"], told["cors"]) == (404, "none")
    assert [what for what in told if what.startswith("environ")] == []
    assert seen.bare == []
    assert seen.readable == []


@BROAD
def test_one_start_serves_timetable_and_desk_and_stops_both(seen: Seen) -> None:
    assert seen.desk_status == 200
    assert (seen.code, "Traceback" in seen.rest, "ended by itself" in seen.rest) == (0, False, False)
    assert not [child for child in seen.children if child.is_running() and child.status() != psutil.STATUS_ZOMBIE]
    assert not seen.still_answers


@BROAD
def test_the_flows_do_what_the_plain_functions_do_and_leave_artifacts(seen: Seen) -> None:
    done = seen.by_hand
    assert done is not None
    assert done.returncode == 0, done.stderr[-2000:]
    kept = json.loads(done.stdout.strip().splitlines()[-1])
    rows = json.loads(kept["intake"])
    assert {row["file"] for row in rows} >= {"players.csv", "shots_stork.csv"}
    assert all(row["rows"] == row["loaded"] + row["quarantined"] for row in rows)
    assert "pages written" in kept["night"]
    assert "backup: " in kept["weekly-review"]
    assert (seen.workspace.site / "coach" / "index.html").exists()
    assert len(list(seen.workspace.backups.iterdir())) == 1


def test_a_desk_that_ends_by_itself_is_told(workspace: Workspace) -> None:
    said: list[str] = []
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        options = ["--port", str(taken.getsockname()[1])]
        with desk_beside(workspace, options, said.append):
            until = time.monotonic() + PATIENCE_S
            while not said and time.monotonic() < until:
                time.sleep(0.1)
    assert said
    assert "exit code 2" in said[0]


def test_a_child_that_does_not_listen_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "_STOP_S", 0.3)
    deaf = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print(flush=True); time.sleep(600)"
    with subprocess.Popen([sys.executable, "-c", deaf], stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        child.stdout.readline()
        stop_child(child)
        assert child.returncode == -signal.SIGKILL


def test_a_named_server_that_does_not_answer_is_one_line(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PREFECT_API_URL", "http://127.0.0.1:9/api")
    with pytest.raises(ScheduleError, match=r"127\.0\.0\.1:9"), prefect_server(workspace):
        pass


def test_a_served_timetable_works_on_its_own_workspace_only(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    from pipelines.flows import night  # noqa: PLC0415 - Prefect is heavy

    monkeypatch.setenv(night.SERVED, str(workspace.root.resolve()))
    assert night._night(str(workspace.root)).workspace.root == workspace.root
    monkeypatch.setenv(night.SERVED, str(workspace.root.parent))
    with pytest.raises(WorkspaceError, match="serves"):
        night._night(str(workspace.root))
