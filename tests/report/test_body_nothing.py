"""What pages on the body say of nothing: of weeks that can tell, of how many players, and of injuries where absences come."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import pytest

from reports.pages import body_map, squad_health
from reports.pages.body_map import _answer
from reports.pages.context import page_context
from tests.report.conftest import LAST_ON, academy, insert, row
from warehouse.marts import Marts

if TYPE_CHECKING:
    import duckdb

MONDAY = dt.date(2026, 3, 9)
WEEK = dt.timedelta(weeks=1)
STIFF = {"item": "stiff_lower_back", "mean_answer": 5.0, "normal": 1.0, "n_answers": 4, "n_days_above": 4}
CALM = STIFF | {"mean_answer": 1.0, "n_days_above": 0}
ONE_DAY = STIFF | {"n_answers": 1, "n_days_above": 1}


def lead(con: duckdb.DuckDBPyConnection, *weeks: tuple[str, dt.date, dict[str, object]]) -> str:
    con.execute("delete from body_week").fetchall()
    insert(
        con,
        "body_week",
        [
            row("body_week", player_id=who, week_starting=on, region="lower_back", worst_answer=9.0, **told)
            for who, on, told in weeks
        ],
    )
    (page,) = body_map.pages(Marts(con, "physio"), page_context(academy(), "physio", LAST_ON))
    return page.lead


def test_a_week_that_has_just_begun_is_no_reason_to_call_everybody_well(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("update player set health_consent = true").fetchall()
    con.execute("update consent set agreed = true").fetchall()
    stiff = [("p1", MONDAY - WEEK, STIFF), ("p2", MONDAY - WEEK, CALM)]
    expected = "1 player is above their own normal in some region, of 2 who answered on two days or more of a week since"
    assert lead(con, *stiff, ("p2", MONDAY, ONE_DAY)) == f"{expected} 2 March 2026."
    assert lead(con, *stiff, ("p1", MONDAY, CALM)).startswith("2 players answered on two days or more of a week")
    assert "nobody is above" in lead(con, *stiff, ("p1", MONDAY, CALM))
    assert lead(con, ("p1", MONDAY, ONE_DAY)).startswith("Since 2 March 2026 no week has answers of two days")


@pytest.mark.parametrize(
    ("audience", "weeks", "says"),
    [
        ("physio", [(MONDAY - WEEK, STIFF), (MONDAY, ONE_DAY)], "Above their own normal in the week from 2 March 2026: x."),
        (
            "player",
            [(MONDAY - WEEK, STIFF), (MONDAY, CALM)],
            "No answer was above your own normal in the week from 9 March 2026.",
        ),
        ("player", [(MONDAY - 2 * WEEK, STIFF), (MONDAY, ONE_DAY)], "Neither the week from 9 March 2026 nor the one before has"),
        ("player", [(MONDAY, STIFF | {"normal": None})], "Your own normal is still being learned"),
    ],
)
def test_a_player_is_told_of_the_newest_week_that_can_tell(
    audience: str, weeks: list[tuple[dt.date, dict[str, object]]], says: str
) -> None:
    context = page_context(academy(), "player" if audience == "player" else "physio", LAST_ON)
    rows = [told | {"week_starting": on} for on, told in weeks]
    assert _answer(rows, lambda above: ["x"] * len(above), context).startswith(says)


def test_no_injury_is_told_only_where_absences_are_handed_in(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("delete from absence").fetchall()
    con.execute("delete from burden").fetchall()
    insert(con, "burden", [row("burden", slice_kind="all", slice="all", hours=679.0, incidence_low=0.0, incidence_high=5.43)])
    context = page_context(academy(), "physio", LAST_ON)
    assert "whether there were injuries is not known" in squad_health._burden(Marts(con, "physio"), context, "")
    insert(con, "absence", [row("absence", player_id="p1", began_on=LAST_ON, kind="illness")])
    assert "No injury with absence in 679 hours" in squad_health._burden(Marts(con, "physio"), context, "")
