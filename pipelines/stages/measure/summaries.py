"""Summaries of sessions: counting shots in, ``session_club`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.grouping import divided
from pipelines.measures.session_balls import balls_effect
from pipelines.measures.summary import SESSION_GRAIN, session_summary
from pipelines.stages.stale import MONTH, Apart, Read, renew
from schemas.core.summaries import SCATTER_METRICS, SESSION_CLUB, SUMMARY_METRICS
from warehouse.connection import frame

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_BALLS = "select * exclude (shot_no) from driver_ball where on_date <= ?"
EVENED = ("club_speed_mps", "ball_speed_mps")
"""Speeds from which the cold and the tired balls of a session are taken: the ball loses what the club loses."""


def summaries(con: duckdb.DuckDBPyConnection, _academy: Academy, as_of: date) -> Apart:
    """One row per session and group of clubs up to ``as_of``: of a month, on those before, which say what club is usual.

    What cold and tired balls do is told by the squad, by each quarter from the days before it.
    """
    until = ("on_date", as_of)
    swings = Read("own_swing", ("session_id", "player_id", "club_group", "shot_no"), until, asked=True)
    struck = Read("club_of_session", (*SESSION_GRAIN, "club"), until, told=False)
    balls = frame(con, _BALLS, [as_of])
    held = balls.select("player_id", "session_id", month_on=pl.col("on_date").dt.month_start()).unique()
    effect = balls_effect(balls).join(held, on=["player_id", "session_id"], how="left", maintain_order="left")
    reads: dict[str, Read | pl.DataFrame] = {"swings": swings, "struck": struck, "effect": effect}
    return Apart("summaries", (SESSION_CLUB,), reads, summary_rows, "", MONTH, days={SESSION_CLUB.name: "on_date"})


def summary_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``session_club`` from counting shots, and from what cold and tired balls do to each session."""
    shots = read["swings"].with_columns((pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio"))
    summary = session_summary(shots, tuple(SUMMARY_METRICS), SCATTER_METRICS, read["struck"])
    return {SESSION_CLUB.name: _evened(summary, read["effect"].drop("month_on"))}


def measure_summaries(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write one row per session and group of clubs up to ``as_of``."""
    renew(con, summaries(con, academy, as_of))


def _evened(summary: pl.DataFrame, effect: pl.DataFrame) -> pl.DataFrame:
    """Driver speeds as they would be in a session as long as the player's first ones, and by how much that changes them."""
    of_driver = effect.with_columns(club_group=pl.lit("driver"), club=pl.lit("driver"))
    joined = summary.join(of_driver, on=[*SESSION_GRAIN, "club"], how="left", maintain_order="left")
    share = divided(-pl.col("within_pct").fill_null(0.0), 100.0).exp()
    return joined.with_columns((pl.col(f"{name}_centre") * share).alias(f"{name}_centre") for name in EVENED)
