"""What the server is told: automations that measure silence, left alone while they are right, and begun anew at each start."""

from __future__ import annotations

from contextlib import nullcontext
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from pipelines.flows.federation import register, rounds
from pipelines.flows.federation.places import HEARTBEAT_S, LOST_AFTER_S, MOST_RUNS, limit_of


class Kept:
    """A server's automations, limits and runs, as far as they are asked for."""

    def __init__(self) -> None:
        self.automations: dict[int, Any] = {}
        self.n_made = 0
        self.limits: dict[str, int] = {}
        self.runs: list[Any] = []
        self.begun: list[str] = []

    def read_automations_by_name(self, name: str) -> list[Any]:
        found = [(key, one) for key, one in self.automations.items() if one.name == name]
        return [SimpleNamespace(id=key, description=one.description) for key, one in found]

    def create_automation(self, automation: Any) -> None:
        self.n_made += 1
        self.automations[self.n_made] = automation

    def delete_automation(self, key: int) -> None:
        del self.automations[key]

    def read_global_concurrency_limits(self, limit: int, offset: int) -> list[Any]:
        return [SimpleNamespace(name=name, limit=n) for name, n in list(self.limits.items())[offset : offset + limit]]

    def upsert_global_concurrency_limit_by_name(self, name: str, limit: int) -> None:
        self.limits[name] = limit

    def delete_global_concurrency_limit_by_name(self, name: str) -> None:
        del self.limits[name]

    def set_flow_run_state(self, run_id: str, _state: Any, *, force: bool) -> None:
        assert force
        self.begun.append(run_id)

    def read_flow_runs(self, limit: int, offset: int, **_wanted: object) -> list[Any]:
        return self.runs[offset : offset + limit]


def test_automations_that_are_right_stay_untouched_and_others_are_made_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    server: Any = Kept()
    register._keep_automations(server)
    made = dict(server.automations)
    register._keep_automations(server)
    assert (len(made), server.automations) == (3, made)
    monkeypatch.setattr(register, "LOST_AFTER_S", LOST_AFTER_S + 5)
    register._keep_automations(server)
    assert (len(server.automations), len(server.automations.keys() & made.keys())) == (3, 2)


def test_a_lost_run_is_begun_again_so_often_and_no_more() -> None:
    silent, never_begun, crashed = (one.trigger for one in register._automations())
    assert crashed.match.model_dump()["prefect.run-count"] == [str(n) for n in range(1, MOST_RUNS)]
    assert silent.within.total_seconds() > 2 * HEARTBEAT_S
    assert silent.after <= silent.expect
    assert "prefect.flow-run.Running" in never_begun.expect


def test_the_silence_of_every_run_under_way_is_measured_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    server, heard = Kept(), []
    server.runs = [SimpleNamespace(id=f"r{n}", name=f"run {n}") for n in range(register._PAGE + 3)]

    monkeypatch.setattr(register, "get_client", lambda **_how: nullcontext(server))
    monkeypatch.setattr(register, "emit_event", lambda event, resource: heard.append((event, resource["prefect.resource.id"])))
    assert register.listen_for_life() == len(server.runs)
    assert heard == [("prefect.flow-run.heartbeat", f"prefect.flow-run.r{n}") for n in range(len(server.runs))]


def test_what_never_began_or_was_not_seen_being_lost_is_begun_again(monkeypatch: pytest.MonkeyPatch) -> None:
    server, now = Kept(), datetime.now(UTC)

    def lost(name: str, n: int, ago_s: float = 60.0, due_h: float = 1.0) -> SimpleNamespace:
        state = SimpleNamespace(timestamp=now - timedelta(seconds=ago_s))
        return SimpleNamespace(id=name, run_count=n, state=state, expected_start_time=now - timedelta(hours=due_h))

    server.runs = [
        lost("never begun", 0),
        lost("not seen", 2),
        lost("fresh", 1, 1.0),
        lost("too often", MOST_RUNS),
        lost("old", 0, due_h=7),
    ]
    monkeypatch.setattr(register, "get_client", lambda **_how: nullcontext(server))
    assert register.begin_lost_again() == 2
    assert server.begun == ["never begun", "not seen"]


def test_each_academy_has_a_limit_and_who_has_left_has_none() -> None:
    server: Any = Kept()
    server.limits = {limit_of("gone"): 1, limit_of("north"): 2}
    register._limit_academies(server, ["north", "south"])
    assert server.limits == {limit_of("north"): 1, limit_of("south"): 1}


def test_a_round_is_of_nights_alone() -> None:
    assert rounds._asked([], ()) == []
    assert rounds._asked([], ("north",)) == []
    assert rounds._asked(["north", "south"], ()) == [["north", "south"]]
    assert rounds._asked(["north", "south"], ("south",)) == [["south"]]
