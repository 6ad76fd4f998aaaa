"""The timetable with a real Prefect server, and the flows under Prefect's own harness."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import TYPE_CHECKING, Any

import psutil
import pytest

from pipelines.flows.server import answers, prefect_server
from schemas.errors import ScheduleError
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from pipelines.workspace import Workspace

ROOT = Path(__file__).parents[2]
PATIENCE_S = 90.0


def asked(api_url: str, path: str, body: dict[str, Any]) -> list[dict[str, Any]]:
    request = urllib.request.Request(  # noqa: S310 - loopback
        f"{api_url}/{path}", data=json.dumps(body).encode(), headers={"content-type": "application/json"}
    )
    with urllib.request.urlopen(request, timeout=10) as reply:  # noqa: S310 - loopback
        found: list[dict[str, Any]] = json.load(reply)
        return found


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


def finished_intakes(api_url: str) -> list[dict[str, Any]]:
    runs = asked(api_url, "flow_runs/filter", {"flows": {"name": {"any_": ["intake"]}}})
    return [run for run in runs if run["state_type"] in {"COMPLETED", "FAILED", "CRASHED"}]


@pytest.mark.slow
def test_a_served_workspace_takes_files_in_on_its_timetable_and_stops_with_its_server(workspace: Workspace) -> None:
    command = [sys.executable, str(ROOT / "tests" / "flow" / "serve_quickly.py"), str(workspace.root)]
    serving = subprocess.Popen(
        command,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    process = psutil.Process(serving.pid)
    try:
        api_url = address(serving)
        until = time.monotonic() + PATIENCE_S
        outside: set[str] = set()
        while not finished_intakes(api_url) and time.monotonic() < until:
            outside |= outside_connections(process)
            time.sleep(0.3)
        runs = finished_intakes(api_url)
        deployments = asked(api_url, "deployments/filter", {})
        artifacts = asked(api_url, "artifacts/filter", {})
        limits = asked(api_url, "v2/concurrency_limits/filter", {})
        children = process.children(recursive=True)
    finally:
        serving.send_signal(signal.SIGTERM)
        rest, _ = serving.communicate(timeout=60)
    assert [run["state_type"] for run in runs] == ["COMPLETED"] * len(runs)
    assert runs
    assert all(run["auto_scheduled"] for run in runs)
    assert len(deployments) == 3
    assert "intake" in {artifact["key"] for artifact in artifacts}
    assert [limit["limit"] for limit in limits] == [1]
    assert outside == set()
    assert (serving.returncode, "Traceback" in rest) == (0, False)
    assert not [child for child in children if child.is_running() and child.status() != psutil.STATUS_ZOMBIE]
    assert not answers(api_url)
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select count(*) from file") == 7


@pytest.mark.slow
def test_the_flows_do_what_the_plain_functions_do_and_leave_artifacts(workspace: Workspace) -> None:
    command = [sys.executable, str(ROOT / "tests" / "flow" / "run_in_harness.py"), str(workspace.root)]
    done = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    assert done.returncode == 0, done.stderr[-2000:]
    kept = json.loads(done.stdout.strip().splitlines()[-1])
    rows = json.loads(kept["intake"])
    assert {row["file"] for row in rows} >= {"players.csv", "shots_stork.csv"}
    assert all(row["rows"] == row["loaded"] + row["quarantined"] for row in rows)
    assert "pages written" in kept["night"]
    assert "backup: " in kept["weekly-review"]
    assert (workspace.site / "coach" / "index.html").exists()
    assert len(list(workspace.backups.iterdir())) == 1


def test_a_named_server_that_does_not_answer_is_one_line(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PREFECT_API_URL", "http://127.0.0.1:9/api")
    with pytest.raises(ScheduleError, match=r"127\.0\.0\.1:9"), prefect_server(workspace):
        pass
