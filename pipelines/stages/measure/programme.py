"""The programme: plans, days, levels and strokes in, ``phase`` and ``phase_stroke`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.programme.changes import level_changes, stroke_changes
from pipelines.measures.programme.phases import phase_weeks, phases, planned_and_done
from pipelines.stages.measure.load import in_contract
from schemas.core.programme import PHASE, PHASE_STROKE
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_PLANS = """
select player_id, week_starting, phase, swings_full, swings_speed, minutes
from player_plan
where week_starting <= ?
order by player_id, week_starting
"""
_DAYS = """
select player_id, on_date, n_sessions, swings_full, minutes
from swings_of_day
where on_date <= ?
order by player_id, on_date
"""
_LEVELS = """
select player_id, metric, session_id, on_date, level, level_low, level_high
from driver_level
where on_date <= ?
order by player_id, on_date, session_id
"""
_STROKES = "select player_id, course, month_on, per_round, per_round_low, per_round_high from stroke_month where month_on <= ?"


def measure_programme(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write phases that have begun by ``as_of``; call it after load, trends and strokes."""
    weeks = phase_weeks(frame(con, _PLANS, [as_of]))
    spans = phases(weeks)
    levels = frame(con, _LEVELS, [as_of])
    done = planned_and_done(weeks, frame(con, _DAYS, [as_of]), as_of)
    rows = spans.join(done, on=["player_id", "began_on"], how="left")
    rows = rows.join(_speed(spans, levels), on=["player_id", "began_on"], how="left")
    rows = rows.join(_scatter(spans, levels), on=["player_id", "began_on"], how="left")
    strokes = stroke_changes(spans, frame(con, _STROKES, [as_of]))
    strokes = strokes.rename(
        {
            "before": "per_round_before",
            "after": "per_round_after",
            "change": "stroke_change",
            "low": "stroke_change_low",
            "high": "stroke_change_high",
        }
    )
    with transaction(con):
        replace_table(con, PHASE.name, in_contract(rows.sort("player_id", "began_on"), PHASE))
        replace_table(con, PHASE_STROKE.name, in_contract(strokes, PHASE_STROKE))


def _speed(spans: pl.DataFrame, levels: pl.DataFrame) -> pl.DataFrame:
    return level_changes(spans, levels.filter(pl.col("metric") == "club_speed_mps")).select(
        "player_id",
        "began_on",
        n_speed_sessions="n_sessions",
        speed_before_mps="before",
        speed_after_mps="after",
        speed_change_mps="change",
        speed_change_low_mps="low",
        speed_change_high_mps="high",
    )


def _scatter(spans: pl.DataFrame, levels: pl.DataFrame) -> pl.DataFrame:
    return level_changes(spans, levels.filter(pl.col("metric") == "scatter_side_m")).select(
        "player_id", "began_on", scatter_change_m="change", scatter_change_low_m="low", scatter_change_high_m="high"
    )
