"""Summaries of sessions: counting shots in, ``session_club`` out; and what balls of sessions tell, ``ball_sum``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.grouping import divided
from pipelines.measures.session_balls import ball_sums, balls_effect
from pipelines.measures.summary import SESSION_GRAIN, session_summary
from pipelines.stages.stale import MONTH, Apart, Read, keep_estimates, known_estimates, renew
from schemas.core.summaries import BALL_SUM, SCATTER_METRICS, SESSION_CLUB, SUMMARY_METRICS
from warehouse.connection import frame, transaction

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import duckdb

    from pipelines.measures.estimates import Estimates
    from schemas.academy import Academy

_SUMS = "select * exclude (month_on) from ball_sum where on_date <= ? order by player_id, on_date, session_id"
_USED = (
    *("session_id", "player_id", "club_group", "club", "on_date", "session_kind", "device_id", "ball", "indoors"),
    *(name for name in SUMMARY_METRICS if name != "speed_ratio"),
)
EVENED = ("club_speed_mps", "ball_speed_mps")
"""Speeds from which the cold and the tired balls of a session are taken: the ball loses what the club loses."""


def balls_of_months(as_of: date) -> Apart:
    """What the drives of a player's month tell of cold and tired balls up to ``as_of``."""
    until = ("on_date", as_of)
    balls = Read("driver_ball", ("player_id", "on_date", "session_id", "ball_no"), until)
    return Apart("balls", (BALL_SUM,), {"balls": balls}, ball_rows, "", by=MONTH)


def ball_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``ball_sum``."""
    sums = ball_sums(read["balls"].drop("month_on"))
    return {BALL_SUM.name: sums.with_columns(pl.col("on_date").dt.month_start().alias("month_on"))}


def summaries(con: duckdb.DuckDBPyConnection, as_of: date, estimates: Estimates) -> Apart:
    """One row per session and group of clubs up to ``as_of``: of a month, on those before, which say what club is usual.

    What cold and tired balls do is told by the squad, by each quarter from the days before it.
    """
    until = ("on_date", as_of)
    swings = Read("own_swing", ("session_id", "player_id", "club_group", "shot_no"), until, asked=True, columns=_USED)
    struck = Read("club_of_session", (*SESSION_GRAIN, "club"), until, told=False)
    sums = frame(con, _SUMS, [as_of])
    held = sums.select("player_id", "session_id", month_on=pl.col("on_date").dt.month_start())
    effect = balls_effect(sums, estimates).join(held, on=["player_id", "session_id"], how="left", maintain_order="left")
    reads: dict[str, Read | pl.DataFrame] = {"swings": swings, "struck": struck, "effect": effect}
    return Apart("summaries", (SESSION_CLUB,), reads, summary_rows, "", MONTH, days={SESSION_CLUB.name: "on_date"})


def summary_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``session_club`` from counting shots, and from what cold and tired balls do to each session."""
    shots = read["swings"].with_columns((pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio"))
    summary = session_summary(shots, tuple(SUMMARY_METRICS), SCATTER_METRICS, read["struck"])
    return {SESSION_CLUB.name: _evened(summary, read["effect"].drop("month_on"))}


def measure_summaries(con: duckdb.DuckDBPyConnection, _academy: Academy, as_of: date) -> None:
    """Write one row per session and group of clubs up to ``as_of``."""
    renew(con, balls_of_months(as_of))
    estimates = known_estimates(con, "balls")
    renew(con, summaries(con, as_of, estimates))
    with transaction(con):
        keep_estimates(con, "balls", estimates)


def _evened(summary: pl.DataFrame, effect: pl.DataFrame) -> pl.DataFrame:
    """Driver speeds as they would be in a session as long as the player's first ones, and by how much that changes them."""
    of_driver = effect.with_columns(club_group=pl.lit("driver"), club=pl.lit("driver"))
    joined = summary.join(of_driver, on=[*SESSION_GRAIN, "club"], how="left", maintain_order="left")
    share = divided(-pl.col("within_pct").fill_null(0.0), 100.0).exp()
    return joined.with_columns((pl.col(f"{name}_centre") * share).alias(f"{name}_centre") for name in EVENED)
