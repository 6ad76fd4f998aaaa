"""Load: sessions and shots in; ``load_*`` and the candidates of ``load_jump`` and ``load_flat`` out."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.flags.body_rules import load_flats, load_jumps
from pipelines.measures.load.day import club_week, day_load, session_load, with_days_off, with_days_off_of
from pipelines.measures.load.effort import full_effort
from pipelines.measures.load.grid import day_grid
from pipelines.measures.load.plan import plan_weeks, week_load
from pipelines.measures.load.series import load_series
from pipelines.stages.stale import Apart, Read, renew
from schemas.core.load_body import LOAD_CLUB_WEEK, LOAD_DAY, LOAD_SESSION, LOAD_WEEK, PLAN_WEEK
from warehouse.connection import frame, replace_table, transaction
from warehouse.flags import replace_candidates

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import duckdb

    from pipelines.measures.load.series import LoadSeries
    from schemas.academy import Academy
    from schemas.tables import Table

KINDS = ("load_jump", "load_flat")

_SESSIONS = "select * from load_session order by player_id, on_date, session_id"
_LEFT = "select player_id, left_on from player order by player_id"
_GROUPS = "select player_id, place, group_name, from_on, until_on from player_group order by player_id, place"
_PLANS = "select player_id, week_starting, swings_full, swings_speed, minutes from player_plan where week_starting <= ?"


def in_contract(rows: pl.DataFrame, table: Table) -> pl.DataFrame:
    """The rows with the columns of a table, in its order and types."""
    return rows.select(pl.col(name).cast(dtype) for name, dtype in table.polars_schema().items())


def loads_of_players(as_of: date) -> Apart:
    """Load of sessions and of clubs by week: of a player, for what is full effort is told by the player's own days before."""
    until = ("on_date", as_of)
    sessions = Read("swings_of_session", ("player_id", "on_date", "session_id"), until)
    shots = Read("effort_swing", ("player_id", "on_date", "session_id", "shot_no"), until)
    return Apart("load", (LOAD_SESSION, LOAD_CLUB_WEEK), {"sessions": sessions, "shots": shots}, load_rows, "")


def load_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``load_session`` and ``load_club_week``."""
    sessions = session_load(read["sessions"], full_effort(read["shots"]))
    return {LOAD_SESSION.name: sessions, LOAD_CLUB_WEEK.name: club_week(read["shots"])}


def measure_load(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write load by session, day, week and club, and what its rules say of each night, up to ``as_of``."""
    renew(con, loads_of_players(as_of))
    sessions = frame(con, _SESSIONS)
    days = day_load(sessions)
    if "off" in (academy.day_without_row, *academy.group_day_without_row.values()):
        days = with_days_off(days, frame(con, _LEFT), as_of)
        days = with_days_off_of(days, frame(con, _GROUPS), academy.day_without_row, academy.group_day_without_row)
    planned = plan_weeks(days, frame(con, _PLANS, [as_of]))
    grid = day_grid(sessions["player_id"], days["on_date"].min() or as_of, as_of)  # type: ignore[arg-type] # a date column
    series = load_series(days, grid)
    jumps = with_sessions(load_jumps(series), sessions)
    with transaction(con):
        replace_table(con, LOAD_DAY.name, in_contract(series.frame(), LOAD_DAY))
        replace_table(con, LOAD_WEEK.name, in_contract(week_load(days), LOAD_WEEK))
        replace_table(con, PLAN_WEEK.name, in_contract(planned, PLAN_WEEK))
        replace_candidates(con, KINDS, pl.concat([jumps, load_flat_rows(series, sessions)]))


def load_flat_rows(series: LoadSeries, sessions: pl.DataFrame) -> pl.DataFrame:
    """Candidates of ``load_flat`` with the sessions of that day."""
    return with_sessions(load_flats(series), sessions)


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
