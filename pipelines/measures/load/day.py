"""From sessions to player-days: what was done and how it was felt, and whether the day is known at all."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Mapping


def effort_minutes(effort: pl.Expr, duration_min: pl.Expr) -> pl.Expr:
    """Session load [AU]: rating of effort (0-10) times minutes; null when either is missing.

    Notes
    -----
    It hides speed work: a round of 270 min at 3 is 810, a speed session of 30 min at 8 is 240. So swings stand beside it.

    Source: [Foster2001]
    Checked: tests/published/test_foster_2001.py
    """
    return effort * duration_min


def session_load(sessions: pl.DataFrame, shot_counts: pl.DataFrame) -> pl.DataFrame:
    """Load of each session, swings and effort apart.

    Parameters
    ----------
    sessions : polars.DataFrame
        session_id, player_id, on_date, kind, duration_min, effort, swings_full (null: unknown), swings_part, swings_dry, holes.
    shot_counts : polars.DataFrame
        As :func:`pipelines.measures.load.effort.full_effort` returns them.

    Returns
    -------
    polars.DataFrame
        session_id, player_id, on_date, kind, is_rest, swings_full, swings_part, swings_dry, swings_all, swings_full_effort,
        holes, minutes, effort, effort_min. Null: unknown.

    Notes
    -----
    Every full and dry swing of a speed session counts as full effort when no shot of it was timed; otherwise the share of
    timed shots at full effort is applied to its full swings.
    """
    joined = sessions.join(shot_counts, on="session_id", how="left", maintain_order="left")
    rest = pl.col("kind") == "rest"
    return (
        joined.with_columns(
            is_rest=rest,
            effort_min=pl.when(rest).then(0.0).otherwise(effort_minutes(pl.col("effort"), pl.col("duration_min"))),
            minutes=pl.when(rest).then(0.0).otherwise(pl.col("duration_min")),
            effort=pl.when(rest).then(0.0).otherwise(pl.col("effort")),
        )
        .with_columns(swings_all=pl.col("swings_full") + pl.col("swings_part") + pl.col("swings_dry"))
        .with_columns(swings_full_effort=_full_effort_swings())
        .select(
            "session_id", "player_id", "on_date", "kind", "is_rest", "swings_full", "swings_part", "swings_dry",
            "swings_all", "swings_full_effort", "holes", "minutes", "effort", "effort_min",
        )
        .sort("player_id", "on_date", "session_id")
    )  # fmt: skip


def _full_effort_swings() -> pl.Expr:
    timed = pl.col("n_timed").fill_null(0) > 0
    share = pl.col("n_full_effort") / pl.col("n_timed")
    return (
        pl.when(timed)
        .then((share * pl.col("swings_full")).round())
        .when(pl.col("kind") == "speed")
        .then(pl.col("swings_full") + pl.col("swings_dry"))
        .when(pl.col("swings_full") == 0)
        .then(0)
        .otherwise(None)
        .cast(pl.Int64)
    )


_SUMMED = ("swings_full", "swings_part", "swings_dry", "swings_all", "swings_full_effort", "minutes", "effort_min")


def day_load(session_rows: pl.DataFrame) -> pl.DataFrame:
    """Load of each player-day that has a session or a rest row; a day without a row is unknown and has none here.

    Parameters
    ----------
    session_rows : polars.DataFrame
        As :func:`session_load` returns them.

    Returns
    -------
    polars.DataFrame
        player_id, on_date, n_sessions, is_rest, the sums, holes, largest_session_swings, largest_session_full_effort,
        hardest_effort, is_assumed_off (never here: see :func:`with_days_off`). A sum is null when one session of the day lacks
        it: the day's total is then unknown. Rest day: all 0.
    """
    complete = {name: pl.when(pl.col(name).is_not_null().all()).then(pl.col(name).sum()) for name in _SUMMED}
    return (
        session_rows.group_by("player_id", "on_date")
        .agg(
            (~pl.col("is_rest")).sum().cast(pl.Int64).alias("n_sessions"),
            pl.col("is_rest").all().alias("is_rest"),
            *(expression.alias(name) for name, expression in complete.items()),
            pl.col("holes").fill_null(0).sum().alias("holes"),
            _complete_maximum("swings_all").alias("largest_session_swings"),
            _complete_maximum("swings_full_effort").alias("largest_session_full_effort"),
            _complete_maximum("effort").alias("hardest_effort"),
        )
        .with_columns(is_assumed_off=pl.lit(value=False))
        .sort("player_id", "on_date")
    )


def with_days_off(day_rows: pl.DataFrame, players: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """The days with those between them that have no row, as days off: for academies where every session is handed in.

    Parameters
    ----------
    day_rows : polars.DataFrame
        As :func:`day_load` returns them.
    players : polars.DataFrame
        player_id, left_on (null: still here).
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        From each player's first day to ``as_of``, or the day before the leaving day; the days that were added are
        ``is_assumed_off``.
    """
    if day_rows.is_empty():
        return day_rows
    left = pl.col("left_on").fill_null(as_of + timedelta(days=1)) - pl.duration(days=1)
    spans = (
        day_rows.group_by("player_id")
        .agg(pl.col("on_date").min())
        .join(players.select("player_id", "left_on"), on="player_id", how="left")
        .with_columns(last_on=pl.min_horizontal(left, pl.lit(as_of)))
        .filter(pl.col("last_on") >= pl.col("on_date"))
    )
    days = spans.select("player_id", pl.date_ranges("on_date", "last_on").alias("on_date")).explode("on_date")
    missing = days.join(day_rows, on=["player_id", "on_date"], how="anti")
    nothing = [pl.lit(0).cast(kind).alias(name) for name, kind in day_rows.schema.items() if kind.is_numeric()]
    off = missing.with_columns(*nothing, is_rest=pl.lit(value=True), is_assumed_off=pl.lit(value=True))
    return pl.concat([day_rows, off.select(day_rows.columns)]).sort("player_id", "on_date")


def with_days_off_of(day_rows: pl.DataFrame, groups: pl.DataFrame, rule: str, by_group: Mapping[str, str]) -> pl.DataFrame:
    """The days without those that were added for a player whose group says that a day without a row is unknown.

    Parameters
    ----------
    day_rows : polars.DataFrame
        As :func:`with_days_off` returns them.
    groups : polars.DataFrame
        player_id, place, group_name, from_on, until_on: the first of a player's groups of that day that is named decides.
    rule : {"unknown", "off"}
        For players of no group that is named.
    by_group : mapping
        Group to the same.
    """
    named = groups.with_columns(own=pl.col("group_name").replace_strict(by_group, default=None, return_dtype=pl.String))
    deciding = (
        day_rows.filter("is_assumed_off")
        .select("player_id", "on_date")
        .join(named.drop_nulls("own"), on="player_id")
        .filter(
            pl.col("from_on").fill_null(pl.col("on_date")) <= pl.col("on_date"),
            pl.col("until_on").fill_null(pl.col("on_date")) >= pl.col("on_date"),
        )
        .sort("player_id", "on_date", "place")
        .group_by("player_id", "on_date", maintain_order=True)
        .agg(pl.col("own").first())
    )
    told = day_rows.join(deciding, on=["player_id", "on_date"], how="left", maintain_order="left")
    return told.filter(~pl.col("is_assumed_off") | (pl.col("own").fill_null(pl.lit(rule)) == "off")).drop("own")


def _complete_maximum(name: str) -> pl.Expr:
    return pl.when(pl.col(name).is_not_null().all()).then(pl.col(name).max())


def club_week(shots: pl.DataFrame) -> pl.DataFrame:
    """Recorded swings of each player, week (Monday) and club group.

    Parameters
    ----------
    shots : polars.DataFrame
        player_id, on_date, club_group.
    """
    return (
        shots.group_by("player_id", pl.col("on_date").dt.truncate("1w").alias("week_starting"), "club_group")
        .agg(swings=pl.len().cast(pl.Int64))
        .sort("player_id", "week_starting", "club_group")
    )
