"""Summaries of sessions: counting shots in, ``session_club`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.session_balls import balls_effect
from pipelines.measures.summary import SESSION_GRAIN, session_summary
from schemas.core.summaries import SCATTER_METRICS, SESSION_CLUB, SUMMARY_METRICS
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_SWINGS = "select * from own_swing where on_date <= ? order by session_id, player_id, club_group, shot_no"
_BALLS = "select * from driver_ball where on_date <= ? order by player_id, on_date, session_id, ball_no"
EVENED = ("club_speed_mps", "ball_speed_mps")
"""Speeds from which the cold and the tired balls of a session are taken: the ball loses what the club loses."""


def measure_summaries(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - all stages are called alike
    """Write one row per session and group of clubs up to ``as_of``."""
    shots = frame(con, _SWINGS, [as_of]).with_columns((pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio"))
    summary = _evened(session_summary(shots, tuple(SUMMARY_METRICS), SCATTER_METRICS), frame(con, _BALLS, [as_of]))
    with transaction(con):
        replace_table(con, SESSION_CLUB.name, summary.select(SESSION_CLUB.names))


def _evened(summary: pl.DataFrame, balls: pl.DataFrame) -> pl.DataFrame:
    """Driver speeds as they would be in a session as long as the player's first ones, and by how much that changes them."""
    effect = balls_effect(balls).with_columns(club_group=pl.lit("driver"), club=pl.lit("driver"))
    joined = summary.join(effect, on=[*SESSION_GRAIN, "club"], how="left", maintain_order="left")
    share = (-pl.col("within_pct").fill_null(0.0) / 100.0).exp()
    return joined.with_columns((pl.col(f"{name}_centre") * share).alias(f"{name}_centre") for name in EVENED)
