"""Summaries of sessions: counting shots in, ``session_club`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.summary import session_summary
from schemas.core.summaries import SCATTER_METRICS, SESSION_CLUB, SUMMARY_METRICS
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_SWINGS = "select * from own_swing where on_date <= ? order by session_id, player_id, club_group, shot_no"


def measure_summaries(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - all stages are called alike
    """Write one row per session and group of clubs up to ``as_of``."""
    shots = frame(con, _SWINGS, [as_of]).with_columns((pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio"))
    summary = session_summary(shots, tuple(SUMMARY_METRICS), SCATTER_METRICS)
    with transaction(con):
        replace_table(con, SESSION_CLUB.name, summary.select(SESSION_CLUB.names))
