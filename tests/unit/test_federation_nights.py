"""One academy's night as a worker does it: what the server is told, what is tried again, and in which order after a loss."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from contextlib import nullcontext
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import psutil
import pytest

from pipelines.federation import KEY_VARIABLE, FederationFolder
from pipelines.flows.federation import in_turn, limit, nights, places
from pipelines.stages.audit_log import logged, note
from pipelines.workspace import create_workspace, writing
from schemas.errors import IntakeError, SettingsError
from schemas.federation import FederatedAcademy, Federation, FederationServer

ROOT = Path(__file__).parents[2]
DUE = datetime(2026, 3, 2, 1, 30, tzinfo=UTC)


@pytest.fixture
def federation(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Federation:
    """Two academies, one of them for another machine; no server limits who works on them."""
    monkeypatch.setattr(nights, "concurrency", lambda *_limits, **_more: nullcontext())
    monkeypatch.setenv(places.MACHINE, "clubhouse")
    create_workspace(tmp_path / "north", '[academy]\nname = "north"\ntime_zone = "UTC"\n[times]\nweekly_at = "off"\n')
    away = FederatedAcademy("south", tmp_path / "south", ("pavilion",))
    return Federation("F", "UTC", tries=3, again_after_min=5, academies=(FederatedAcademy("north", tmp_path / "north"), away))


def test_a_run_that_is_begun_again_turns_its_academies_round() -> None:
    assert [nights.in_order(["a", "b", "c"], n) for n in (1, 2, 3)] == [["a", "b", "c"], ["c", "b", "a"], ["a", "b", "c"]]


def test_a_machine_does_what_its_own_file_lists_for_it(federation: Federation) -> None:
    with pytest.raises(SettingsError, match="does not list west"):
        nights.workspace_of(federation, "west", "clubhouse")
    with pytest.raises(SettingsError, match="data of south are not on clubhouse"):
        nights.workspace_of(federation, "south", "clubhouse")


def test_a_fault_is_told_by_its_kind_and_its_words_stay_here(
    federation: Federation, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_given: object) -> None:
        raise IntakeError("Row 3 of heron.csv is odd.")

    monkeypatch.setattr(nights, "run_due_night", broken)
    told = nights._night_of(federation, "north", DUE)
    assert (told.state, told.why, told.machine, told.files) == (nights.FAILED, "IntakeError", "clubhouse", None)
    assert "heron" not in repr(told)
    assert "north: IntakeError: Row 3 of heron.csv is odd." in capsys.readouterr().err
    assert "night failed: IntakeError" in (federation.academies[0].workspace / "audit.log").read_text()


def test_a_workspace_that_somebody_holds_is_tried_later_and_nobody_waits(federation: Federation) -> None:
    workspace = nights.workspace_of(federation, "north", "clubhouse")
    with writing(workspace, "a run"):
        told = nights._night_of(federation, "north", DUE)
    assert (told.state, told.why, told.took_s < 5) == (nights.AGAIN, "WarehouseBusyError", True)


@pytest.mark.parametrize(
    ("fault", "state"), [(OSError("gone"), nights.AGAIN), (TimeoutError(), nights.AGAIN), (SettingsError("x"), nights.FAILED)]
)
def test_what_time_may_mend_is_tried_again(
    federation: Federation, monkeypatch: pytest.MonkeyPatch, fault: Exception, state: str
) -> None:
    def broken(*_given: object) -> None:
        raise fault

    monkeypatch.setattr(nights, "run_due_night", broken)
    assert nights._night_of(federation, "north", DUE).state == state


def test_a_night_is_tried_so_often_and_each_time_later(federation: Federation, monkeypatch: pytest.MonkeyPatch) -> None:
    sent: list[dict[str, Any]] = []
    monkeypatch.setattr(nights, "run_deployment", lambda _id, **given: sent.append(given))
    own = nights._OwnRun("d", ("round 1",))
    told = nights.Told("north", nights.AGAIN, "OSError", "clubhouse", None, None, None, None, 0.1)
    before = datetime.now(UTC)
    assert [nights._sent_again(told, federation, DUE, tried, own).state for tried in (0, 1, 2)] == ["tried again later"] * 2 + [
        "failed"
    ]
    assert [one["parameters"] for one in sent] == [{"academies": ["north"], "due": DUE.isoformat(), "tried": n} for n in (1, 2)]
    minutes = [round((one["scheduled_time"] - before) / timedelta(minutes=1)) for one in sent]
    assert (minutes, len({one["idempotency_key"] for one in sent})) == ([5, 20], 2)
    assert all(one["tags"] == ["round 1"] and one["timeout"] == 0 for one in sent)


def test_each_part_lets_prefect_work_in_its_own_house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(KEY_VARIABLE, "secret")
    folder = FederationFolder(tmp_path)
    plain = Federation("F", "UTC")
    kept = Federation("F", "UTC", server=FederationServer("https://fed.example:443", database_url="postgresql://a@db/n"))
    assert "PREFECT_API_DATABASE_CONNECTION_URL" not in places.server_environment(folder, plain)
    server = places.server_environment(folder, kept)
    assert server["PREFECT_API_DATABASE_CONNECTION_URL"] == "postgresql+asyncpg://a@db/n"
    assert server["PREFECT_SERVER_API_AUTH_STRING"] == server["PREFECT_API_AUTH_STRING"] == "speedworth:secret"
    assert server["PREFECT_SERVER_CONCURRENCY_LEASE_STORAGE"].endswith("filesystem")
    assert server["PREFECT_SERVER_SERVICES_DB_VACUUM_ENABLED"] == "events,flow_runs"
    worker = places.worker_environment(folder, kept, "clubhouse")
    assert worker["PREFECT_LOGGING_TO_API_ENABLED"] == worker["PREFECT_RESULTS_PERSIST_BY_DEFAULT"] == "false"
    assert "PREFECT_API_DATABASE_CONNECTION_URL" not in worker
    assert worker["PREFECT_CLIENT_RETRY_EXTRA_CODES"] == "500"
    assert (worker[places.MACHINE], worker["PREFECT_API_URL"]) == ("clubhouse", "https://fed.example:443/api")


def test_a_night_goes_on_when_the_worker_that_reads_its_output_is_gone(
    federation: Federation, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_given: object) -> None:
        raise BrokenPipeError

    monkeypatch.setattr(places.sys, "stderr", SimpleNamespace(write=broken, flush=broken))
    assert nights._night_of(federation, "south", DUE).state == nights.FAILED


def test_what_goes_wrong_beside_the_nights_is_a_loss_and_no_failure(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(places.FOLDER, str(tmp_path))
    state = nights.federation_nights.fn(["north"])
    assert (state.type.value, state.message) == ("CRASHED", "SettingsError beside the nights")


@pytest.mark.parametrize("server_is_there", [True, False])
def test_behind_a_night_that_takes_long_nobody_waits(monkeypatch: pytest.MonkeyPatch, server_is_there: bool) -> None:
    monkeypatch.setattr(in_turn, "PATIENCE_S", 600.0)
    sent: list[list[str]] = []
    was_asked = threading.Event()

    def hand_on(rest: list[str]) -> None:
        sent.append(rest)
        was_asked.set()
        if not server_is_there:
            raise OSError

    turn, done = in_turn.InTurn(["a", "b", "c", "d"], hand_on), []
    for name in turn:
        done.append(name)
        if name == "a":  # the next one takes long
            monkeypatch.setattr(in_turn, "PATIENCE_S", 0.05)
        if name == "b":
            assert was_asked.wait(20)
    if server_is_there:
        assert (done, sent, turn.handed_on) == (["a", "b"], [["c", "d"]], ("c", "d"))
    else:
        assert (done, sent[0], turn.handed_on) == (["a", "b", "c", "d"], ["c", "d"], ())


def test_of_nights_that_are_soon_over_nothing_is_handed_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(in_turn, "PATIENCE_S", 600.0)
    before = waiting_timers()
    turn = in_turn.InTurn(["a", "b"], lambda _rest: pytest.fail("handed on"))
    assert [(name, len(waiting_timers() - before)) for name in turn] == [("a", 1), ("b", 1)]
    assert waiting_timers() <= before


ENDLESS = """
import sys, time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from pipelines.flows.federation.limit import ended_after
from pipelines.workspace import Workspace

def main():
    with ProcessPoolExecutor(1) as pool, ended_after(float(sys.argv[2]), Workspace(Path(sys.argv[1])), "north"):
        print(pool.submit(os.getpid).result(), flush=True)
        try:
            pool.submit(time.sleep, 600).result()
        except BaseException:
            time.sleep(600)  # whoever swallows an exception is ended too

import os
if __name__ == "__main__":
    main()
"""


def test_a_night_that_does_not_end_is_ended_with_its_processes_and_not_tried_again(
    federation: Federation, tmp_path: Path
) -> None:
    (tmp_path / "endless.py").write_text(ENDLESS)
    workspace = nights.workspace_of(federation, "north", "clubhouse")
    command = [sys.executable, str(tmp_path / "endless.py"), str(workspace.root), "2.5"]
    ended = subprocess.run(
        command, capture_output=True, text=True, check=False, timeout=60, env=os.environ | {"PYTHONPATH": str(ROOT)}
    )
    assert ended.returncode == 75, ended.stderr
    assert "north: its night is not over after 0 min, and is ended" in ended.stderr
    until = time.monotonic() + 20  # it was killed; a busy machine lets it die a little later
    while is_alive(int(ended.stdout)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not is_alive(int(ended.stdout))
    assert [line.what for line in logged(workspace)] == [limit.ENDED]
    told = nights._night_of(federation, "north", DUE)
    assert (told.state, told.why) == (nights.FAILED, "not over within night_limit_min")
    assert nights._night_of(federation, "north", datetime.now(UTC) + timedelta(minutes=1)).state == nights.DONE


def is_alive(pid: int) -> bool:
    return psutil.pid_exists(pid) and psutil.Process(pid).status() != psutil.STATUS_ZOMBIE


def waiting_timers() -> set[threading.Thread]:
    """Those of this process that have still to go off."""
    return {one for one in threading.enumerate() if isinstance(one, threading.Timer) and not one.finished.is_set()}


def test_a_night_that_is_over_in_time_leaves_nothing_to_end_it(federation: Federation) -> None:
    workspace = nights.workspace_of(federation, "north", "clubhouse")
    before = waiting_timers()
    with limit.ended_after(30, workspace, "north"):
        assert len(waiting_timers() - before) == 1
    assert waiting_timers() <= before
    with limit.ended_after(0, workspace, "north"):
        assert waiting_timers() <= before
    note(workspace, DUE - timedelta(days=1), limit.ENDED, minutes=120)
    assert not limit.was_ended(workspace, DUE)
