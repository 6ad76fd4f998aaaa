"""Load: sessions and shots in; ``load_*`` and the candidates of ``load_jump`` and ``load_flat`` out."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.estimates import inputs_digest
from pipelines.measures.flags.body_rules import load_flats, load_jumps
from pipelines.measures.load.day import club_week, day_load, session_load, with_days_off, with_days_off_of
from pipelines.measures.load.effort import REFERENCE_DAYS, full_effort
from pipelines.measures.load.grid import day_grid
from pipelines.measures.load.plan import plan_weeks, week_load
from pipelines.measures.load.series import load_series
from pipelines.stages.stale import ASKED, MONTH, Apart, Read, renew
from pipelines.stages.standing_days import StandingDays, are_stored
from schemas.core.flags import CANDIDATE
from schemas.core.load_body import LOAD_CLUB_WEEK, LOAD_DAY, LOAD_SESSION, LOAD_WEEK, PLAN_WEEK
from warehouse.connection import frame, replace_days, replace_table, transaction
from warehouse.flags import replace_candidates_since
from warehouse.in_turn import rows_in_turn
from warehouse.units import swings_digest

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

    from pipelines.measures.load.grid import DayGrid
    from pipelines.measures.load.series import LoadSeries
    from schemas.academy import Academy
    from schemas.tables import Table

KINDS = ("load_jump", "load_flat")
LOAD = "load by day"

_SESSIONS = "select * from load_session order by player_id, on_date, session_id"
_SHOTS = """
select player_id, on_date, club_group
from effort_swing
where on_date between ? and ? and player_id >= ? and player_id < ?
"""
_PLAYERS_IN_TURN = 500
"""Shots stand in the order in which they came, so that all are passed over for some players."""
_TIMED = ("player_id", "session_id", "on_date", "club", "device_id", "club_speed_mps")
_LEFT = "select player_id, left_on from player order by player_id"
_GROUPS = "select player_id, place, group_name, from_on, until_on from player_group order by player_id, place"
_PLANS = "select player_id, week_starting, swings_full, swings_speed, minutes from player_plan where week_starting <= ?"


def in_contract(rows: pl.DataFrame, table: Table) -> pl.DataFrame:
    """The rows with the columns of a table, in its order and types."""
    return rows.select(pl.col(name).cast(dtype) for name, dtype in table.polars_schema().items())


def loads_of_players(as_of: date) -> Apart:
    """Load of sessions: of a player's month on those before it, for what is full effort is told by the player's own days."""
    until = ("on_date", as_of)
    sessions = Read("swings_of_session", ("player_id", "on_date", "session_id"), until, asked=True)
    order = ("player_id", "on_date", "session_id", "shot_no")
    shots = Read("effort_swing", order, until, asked=True, columns=_TIMED)
    fast = Read("fast_swing_day", ("player_id", "club", "device_id", "on_date"), until, told=False)
    reads = {"sessions": sessions, "shots": shots, "fast": fast}
    return Apart("load", (LOAD_SESSION,), reads, load_rows, "", MONTH, days={LOAD_SESSION.name: "on_date"})


def load_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``load_session``."""
    begin_on = read[ASKED]["month_on"].min() or date.max
    fast = read["fast"].filter(pl.col("on_date") >= pl.lit(begin_on) - pl.duration(days=REFERENCE_DAYS))
    return {LOAD_SESSION.name: session_load(read["sessions"], full_effort(read["shots"], fast))}


def measure_load(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write load by session, day, week and club, and what its rules say of each night, up to ``as_of``."""
    renew(con, loads_of_players(as_of))
    sessions = frame(con, _SESSIONS)
    days = _days(con, academy, sessions, as_of)
    stand = StandingDays(con, LOAD, as_of, lambda monday: _digest(sessions, days, monday) + swings_digest(con, monday))
    grid = _grid(sessions, days, as_of)
    begin = (stand.begin_on - grid.first_on).days if stand.begin_on else 0
    series = load_series(days, grid, begin)
    clubs = _clubs(con, stand.begin_on or date.min, as_of)
    with transaction(con):
        replace_days(con, LOAD_CLUB_WEEK.name, "week_starting", stand.begin_on, clubs)
        replace_days(con, LOAD_DAY.name, "on_date", stand.begin_on, in_contract(series.frame(begin), LOAD_DAY))
        replace_table(con, LOAD_WEEK.name, in_contract(week_load(days), LOAD_WEEK))
        planned = plan_weeks(days, frame(con, _PLANS, [as_of]))
        replace_table(con, PLAN_WEEK.name, in_contract(planned, PLAN_WEEK))
        replace_candidates_since(con, KINDS, stand.begin_on, _said(series, begin, sessions))
        stand.keep(con, dict.fromkeys(stand.asked(grid.first_on), "told"))


def days_differing(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> list[str]:
    """Tables of load by day whose rows are not what is computed from the first day on."""
    sessions = frame(con, _SESSIONS)
    days = _days(con, academy, sessions, as_of)
    series = load_series(days, _grid(sessions, days, as_of))
    clubs = _clubs(con, date.min, as_of)
    found = (
        (LOAD_CLUB_WEEK, clubs, ()),
        (LOAD_DAY, in_contract(series.frame(), LOAD_DAY), ()),
        (CANDIDATE, _said(series, 0, sessions), KINDS),
    )
    return [table.name for table, rows, kinds in found if not are_stored(con, table, rows, kinds)]


def _clubs(con: duckdb.DuckDBPyConnection, since: date, as_of: date) -> pl.DataFrame:
    """Swings of clubs by week."""
    return pl.concat([club_week(shots) for shots in rows_in_turn(con, _SHOTS, [since, as_of], _PLAYERS_IN_TURN)])


def _grid(sessions: pl.DataFrame, days: pl.DataFrame, as_of: date) -> DayGrid:
    return day_grid(sessions["player_id"], days["on_date"].min() or as_of, as_of)  # type: ignore[arg-type] # a date column


def _said(series: LoadSeries, begin: int, sessions: pl.DataFrame) -> pl.DataFrame:
    """Candidates from a day of the grid on."""
    said = pl.concat([load_jumps(series), load_flats(series)]).filter(pl.col("on_date") >= series.grid.day(begin))
    return with_sessions(said, sessions)


def _days(con: duckdb.DuckDBPyConnection, academy: Academy, sessions: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Load of each known day, days off among them where the academy takes days without a row for such."""
    days = day_load(sessions)
    if "off" not in (academy.day_without_row, *academy.group_day_without_row.values()):
        return days
    days = with_days_off(days, frame(con, _LEFT), as_of)
    return with_days_off_of(days, frame(con, _GROUPS), academy.day_without_row, academy.group_day_without_row)


def _digest(sessions: pl.DataFrame, days: pl.DataFrame, before: date) -> str:
    """Of all sessions and days before one."""
    told = inputs_digest("sessions", sessions.filter(pl.col("on_date") < before), None)
    return inputs_digest("days", days.filter(pl.col("on_date") < before), told)


def with_sessions(rows: pl.DataFrame, sessions: pl.DataFrame) -> pl.DataFrame:
    """Candidates with the ids of the sessions that they rest on: the day's, or those of the last 7 days for a week."""
    spoken = rows.select("player_id", "on_date", "metric").unique()
    reach = pl.when(pl.col("metric").str.starts_with("week_")).then(6).otherwise(0)
    started = sessions.filter(~pl.col("is_rest")).select("player_id", "session_id", held_on="on_date")
    found = (
        spoken.with_columns(since=pl.col("on_date") - pl.duration(days=reach))
        .join(started, on="player_id")
        .filter(pl.col("held_on").is_between(pl.col("since"), pl.col("on_date")))
        .sort("player_id", "on_date", "metric", "held_on", "session_id")
        .group_by("player_id", "on_date", "metric", maintain_order=True)
        .agg(pl.col("session_id").alias("session_ids"))
    )
    joined = rows.drop("sources").join(found, on=["player_id", "on_date", "metric"], how="left", maintain_order="left")
    nothing = pl.lit([], dtype=pl.List(pl.String()))
    return joined.with_columns(sources=pl.coalesce("session_ids", nothing)).select(rows.columns)


def recent(as_of: date, days: int) -> date:
    """First of the last ``days``, ``as_of`` included."""
    return as_of - timedelta(days=days - 1)
