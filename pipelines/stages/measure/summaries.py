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

# A trial's changed arms are not the player's normal swing: they are compared in the trial, not followed over months.
_COUNTING_SHOTS = """
select shot_day.*
from shot_day
left join trial using (trial_id)
where shot_day.counts
  and shot_day.on_date <= ?
  and shot_day.club_group <> 'training'
  and (shot_day.arm is null or trial.normal_arm is null or shot_day.arm = trial.normal_arm)
order by shot_day.session_id, shot_day.player_id, shot_day.club_group, shot_day.shot_no
"""


def measure_summaries(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - all stages are called alike
    """Write one row per session and group of clubs up to ``as_of``."""
    shots = frame(con, _COUNTING_SHOTS, [as_of]).with_columns(
        (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio")
    )
    summary = session_summary(shots, tuple(SUMMARY_METRICS), SCATTER_METRICS)
    with transaction(con):
        replace_table(con, SESSION_CLUB.name, summary.select(SESSION_CLUB.names))
