"""What a worker and a round by hand say while they wait: for a name that is nobody's, and for nights that are tried again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING
from uuid import uuid4

import pytest
from prefect.client.schemas.objects import FlowRun, State, StateType

from pipelines.flows.federation import rounds, worker
from schemas.errors import ScheduleError
from schemas.federation import FederatedAcademy, Federation

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2026, 3, 2, 1, 30, tzinfo=UTC)


def run(state: StateType, minutes: float = 0.0) -> FlowRun:
    at = NOW + timedelta(minutes=minutes)
    return FlowRun(flow_id=uuid4(), state=State(type=state), state_type=state, expected_start_time=at)


def test_a_round_says_when_a_night_that_failed_is_tried_again() -> None:
    assert rounds.progress([run(StateType.COMPLETED), run(StateType.RUNNING)], NOW) == "Runs: 1 of 2 over"
    waits = [run(StateType.COMPLETED), run(StateType.SCHEDULED, 5.0), run(StateType.SCHEDULED, 20.0)]
    assert rounds.progress(waits, NOW) == "Runs: 1 of 3 over; 2 tried again, next at 01:35 UTC"
    assert rounds.progress([run(StateType.SCHEDULED)], NOW) == "Runs: 0 of 1 over", "it waits for a worker, not for its time"


@pytest.mark.parametrize(("machine", "is_told"), [("clubhouse", False), ("clubhuose", True)])
def test_a_worker_says_that_no_academy_names_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, machine: str, is_told: bool
) -> None:
    academies = (FederatedAcademy("north", tmp_path / "n"), FederatedAcademy("south", tmp_path / "s", ("clubhouse",)))
    folder = SimpleNamespace(federation=lambda: Federation("F", "UTC", academies=academies))

    def away(*_: object) -> None:
        raise ScheduleError("no server", "start it")

    monkeypatch.setattr(worker, "reach", away)
    told: list[str] = []
    with pytest.raises(ScheduleError):
        worker.work(folder, machine, 1, told.append)  # type: ignore[arg-type] # all that is asked of a folder
    assert any("No academy names the machine clubhuose (named are clubhouse)" in line for line in told) is is_told
