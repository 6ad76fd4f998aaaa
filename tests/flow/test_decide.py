"""A decision from the command to the warehouse and back, and through a correction of the data."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.runs import Night, take_in_waiting
from pipelines.settings import default_settings
from pipelines.stages.decide import Decision, decisions_of_player, measure_decisions, record_decision
from pipelines.stages.name_change import name_change
from pipelines.workspace import create_workspace
from schemas.core.flags import FLAG
from schemas.errors import NotFoundError, UsageError
from warehouse.connection import frame, insert_frame, open_warehouse, scalar

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace

NOW = datetime(2026, 3, 4, 20, tzinfo=UTC)
DAY = NOW.date()


def flag(flag_id: str, raised_on: date, audience: str = "physio", kind: str = "body_stiff") -> pl.DataFrame:
    row = {
        "flag_id": flag_id, "player_id": "P1", "kind": kind, "level": "alert", "audience": audience, "raised_on": raised_on,
        "alerted_on": raised_on, "closed_because": "", "led_by": "", "metric": "", "region": "lower_back", "club_group": "",
        "device_id": "", "strength": 5.0, "reasons": [], "sources": [],
    }  # fmt: skip
    return pl.DataFrame([row], schema=FLAG.polars_schema())


@pytest.fixture
def flagged(tmp_path: Path) -> Workspace:
    made = create_workspace(tmp_path / "hill", default_settings("Hill", "Europe/Berlin"))
    (made.inbox / "players.csv").write_text("player_id,alias,health_consent\nP1,Ada,true\n", encoding="utf-8")
    take_in_waiting(Night(made, NOW))
    with open_warehouse(made.warehouse) as con:
        insert_frame(con, "flag", flag("aaaaaaaa", date(2026, 3, 2)))
        insert_frame(con, "flag", flag("bbbbbbbb", date(2026, 3, 2), "both", "load_jump"))
    return made


def states(workspace: Workspace) -> pl.DataFrame:
    with open_warehouse(workspace.warehouse) as con:
        measure_decisions(con, workspace.academy(), DAY)
        return frame(con, "select * from decision_state order by flag_id")


def test_a_decision_goes_through_the_inbox_into_the_archive(flagged: Workspace) -> None:
    path = record_decision(flagged, DAY, Decision("aaaaaaaa", "physio", "ease", date(2026, 3, 18), "half the bag, no driver"))
    assert path.parent == flagged.inbox
    outcome = take_in_waiting(Night(flagged, NOW))
    assert (outcome.n_loaded, outcome.n_quarantined) == (1, 0)
    found = states(flagged).row(0, named=True)
    assert (found["state"], found["decision"], found["note"]) == ("under_decision", "ease", "half the bag, no driver")
    assert decisions_of_player(flagged, "P1", "physio").height == 1


def test_a_decision_outlives_a_correction_that_moves_its_flag(flagged: Workspace) -> None:
    record_decision(flagged, DAY, Decision("aaaaaaaa", "physio", "rest"))
    take_in_waiting(Night(flagged, NOW))
    states(flagged)
    with open_warehouse(flagged.warehouse) as con:
        con.execute("delete from flag where flag_id = 'aaaaaaaa'").fetchall()
        insert_frame(con, "flag", flag("cccccccc", date(2026, 3, 3)))
    found = states(flagged).row(0, named=True)
    assert (found["flag_id"], found["decided_flag_id"], found["decision"]) == ("cccccccc", "aaaaaaaa", "rest")


def test_a_decision_outlives_a_warehouse_built_anew_with_corrected_data(flagged: Workspace) -> None:
    record_decision(flagged, DAY, Decision("aaaaaaaa", "physio", "rest"))
    take_in_waiting(Night(flagged, NOW))
    with open_warehouse(flagged.warehouse) as con:  # as if built anew: the flag was never raised under its old id
        con.execute("delete from flag").fetchall()
        con.execute("delete from decision_subject").fetchall()
        insert_frame(con, "flag", flag("cccccccc", date(2026, 3, 3)))
    assert states(flagged)["flag_id"].to_list() == ["cccccccc"]


def test_a_coach_neither_decides_nor_sees_what_is_for_the_physio(flagged: Workspace) -> None:
    with pytest.raises(NotFoundError):
        record_decision(flagged, DAY, Decision("aaaaaaaa", "coach", "watch"))
    record_decision(flagged, DAY, Decision("bbbbbbbb", "coach", "watch"))
    record_decision(flagged, DAY, Decision("aaaaaaaa", "physio", "refer"))
    take_in_waiting(Night(flagged, NOW))
    states(flagged)
    assert decisions_of_player(flagged, "P1", "coach")["decision"].to_list() == ["watch"]
    assert decisions_of_player(flagged, "P1", "physio").height == 2


@pytest.mark.parametrize(
    "wrong", [Decision("aaaaaaaa", "physio", "cure"), Decision("aaaaaaaa", "physio", "ease", date(2026, 3, 3))]
)
def test_mistakes_are_told(flagged: Workspace, wrong: Decision) -> None:
    with pytest.raises(UsageError):
        record_decision(flagged, DAY, wrong)
    assert not list(flagged.inbox.glob("decisions*"))


def test_an_unknown_flag_is_told(flagged: Workspace) -> None:
    with pytest.raises(NotFoundError, match="speedworth flags"):
        record_decision(flagged, DAY, Decision("zzzzzzzz", "physio", "watch"))


def test_a_later_decision_is_kept_beside_the_earlier(flagged: Workspace) -> None:
    record_decision(flagged, DAY, Decision("aaaaaaaa", "physio", "watch"))
    record_decision(flagged, date(2026, 3, 5), Decision("aaaaaaaa", "physio", "refer"))
    take_in_waiting(Night(flagged, NOW))
    with open_warehouse(flagged.warehouse) as con:
        assert scalar(con, "select count(*) from decision") == 2


def test_of_a_suspected_device_it_is_decided_who_moved(flagged: Workspace) -> None:
    device = flag("dddddddd", date(2026, 3, 2), "coach", "device_shift").with_columns(
        player_id=pl.lit(""), region=pl.lit(""), device_id=pl.lit("bay-1")
    )
    with open_warehouse(flagged.warehouse) as con:
        insert_frame(con, "flag", device)
    with pytest.raises(UsageError, match="device, players, unclear"):
        record_decision(flagged, DAY, Decision("dddddddd", "coach", "watch"))
    with pytest.raises(UsageError, match="watch, ease, rest, refer, set-aside"):
        record_decision(flagged, DAY, Decision("bbbbbbbb", "coach", "players"))
    record_decision(flagged, DAY, Decision("dddddddd", "coach", "players"))
    outcome = take_in_waiting(Night(flagged, NOW))
    assert (outcome.n_loaded, outcome.n_quarantined) == (1, 0)
    with open_warehouse(flagged.warehouse) as con:
        assert frame(con, "select decision from decision").rows() == [("players",)]


def test_nothing_is_written_of_a_decision_or_a_change_that_would_be_refused(flagged: Workspace) -> None:
    with pytest.raises(UsageError, match="note cannot be"):
        record_decision(flagged, DAY, Decision("aaaaaaaa", "physio", "ease", note="too long " * 300))
    with pytest.raises(UsageError, match="changed_on"):
        name_change(flagged, "P1", date(1890, 1, 1), "pause", DAY)
    assert list(flagged.inbox.iterdir()) == []
