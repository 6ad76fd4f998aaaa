from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import chart_candidates, players_judged
from pipelines.measures.flags.engine import flag_history
from pipelines.measures.trend.assembly import in_natural_units, trends
from pipelines.stages.explain import FlagQuery, explained, listed_flags
from schemas.core import core_tables
from schemas.core.trends import NORM, TREND_POINT
from schemas.errors import NotFoundError
from tests.unit.trend_world import START, summaries
from warehouse.connection import insert_frame, transaction
from warehouse.flags import all_candidate_rows, replace_candidates, replace_flags

if TYPE_CHECKING:
    import duckdb

END = START + dt.timedelta(days=160)


@pytest.fixture
def told(con: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    """A squad whose first player loses 4 % at session 50, with flags up to the last night."""
    rows = summaries(
        1, 8, 80, speed_share=[[-0.04 if player == 0 and session >= 50 else 0.0 for session in range(80)] for player in range(8)]
    )
    result = trends(rows)
    with transaction(con):
        insert_frame(con, "trend_point", in_natural_units(result.points).select(TREND_POINT.names))
        insert_frame(con, "trend_norm", result.norms.select(NORM.names))
        said = chart_candidates(result.points, players_judged(result.points))
        replace_candidates(con, tuple(said["kind"].unique()), said)
        insert_sources(con, rows)
        history = flag_history(all_candidate_rows(con), END)
        replace_flags(con, history.flags, history.events)
    return con


def insert_sources(con: duckdb.DuckDBPyConnection, rows: pl.DataFrame) -> None:
    con.execute("insert into academy values ('Test', 'UTC')")
    table = core_tables()["file"]
    blank = {"text": "", "integer": 0, "instant": dt.datetime(2026, 1, 1), "truth": False}  # noqa: DTZ001 - the warehouse holds UTC without zone
    row = {column.name: blank[str(column.kind)] for column in table.columns if column.required}
    row |= {"file_id": "f1", "name": "sessions_all.csv", "status": "loaded"}
    insert_frame(con, "file", pl.DataFrame([row]))
    for line, (session_id, player_id, on_date) in enumerate(rows.select("session_id", "player_id", "on_date").iter_rows(), 2):
        con.execute(
            "insert into session (session_id, player_id, started_at, kind, file_id, line) values (?, ?, ?, 'range', 'f1', ?)",
            [session_id, player_id, dt.datetime.combine(on_date, dt.time(12)), line],
        )


def fall(con: duckdb.DuckDBPyConnection) -> dict[str, object]:
    found = listed_flags(con, FlagQuery(closed_too=True, player_id="p00")).filter(kind="speed_fall")
    return found.row(0, named=True)


def test_a_listing_of_a_past_night_does_not_know_what_came_later(told: duckdb.DuckDBPyConnection) -> None:
    flag = fall(told)
    raised_on = flag["raised_on"]
    assert isinstance(raised_on, dt.date)
    before = listed_flags(told, FlagQuery(closed_too=True, player_id="p00", on=raised_on - dt.timedelta(days=1)))
    then = listed_flags(told, FlagQuery(player_id="p00", on=raised_on)).filter(kind="speed_fall")
    assert flag["flag_id"] not in before["flag_id"].to_list()
    assert then["flag_id"].to_list() == [flag["flag_id"]]
    assert then["closed_on"].to_list() == [None]


def test_open_flags_are_listed_unless_all_are_asked_for(told: duckdb.DuckDBPyConnection) -> None:
    every = listed_flags(told, FlagQuery(closed_too=True))
    still = listed_flags(told, FlagQuery())
    assert still["closed_on"].null_count() == still.height
    assert set(still["flag_id"]) <= set(every["flag_id"])
    assert listed_flags(told, FlagQuery(closed_too=True, since_on=END)).is_empty()


def test_an_explanation_reaches_the_sessions_and_their_lines(told: duckdb.DuckDBPyConnection) -> None:
    flag = fall(told)
    why = explained(told, str(flag["flag_id"]))
    assert why.rule.kind == "speed_fall"
    assert why.events["event"][0] == "raised"
    assert set(why.points["session_id"]) == set(flag["sources"])  # type: ignore[call-overload]
    assert why.norms is not None
    assert why.norms["from_on"] <= flag["raised_on"]
    assert why.origins["file_name"].unique().to_list() == ["sessions_all.csv"]
    assert why.origins["first_line"].min() == int(why.origins["source"][0].split("-")[1]) + 2


def test_candidates_of_other_kinds_stay(told: duckdb.DuckDBPyConnection) -> None:
    before = all_candidate_rows(told).filter(kind="speed_fall").height
    with transaction(told):
        replace_candidates(told, ("speed_rise",), all_candidate_rows(told).head(0))
    after = all_candidate_rows(told)
    assert after.filter(kind="speed_fall").height == before
    assert after.filter(kind="speed_rise").is_empty()


def test_no_such_flag(con: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(NotFoundError, match="no flag"):
        explained(con, "nowhere")
