"""The body map over weeks: how stiff, how often answered, and on how many days above the player's own normal."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.body.items import display_percentile, week_starts, week_sum
from pipelines.measures.load.grid import readings

if TYPE_CHECKING:
    from pipelines.measures.body.items import BodyItem
    from pipelines.measures.load.grid import DayGrid

ABOVE_SCORE = 3.0
ABOVE_EXCESS = 1.0
"""A day counts as above the own normal when the last answers score 3 and lie a point or more over it. Own choice, for the map
alone."""


def body_weeks(item: BodyItem, grid: DayGrid) -> pl.DataFrame:
    """Each player and week (Monday) with at least one answer to an item.

    Returns
    -------
    polars.DataFrame
        player_id, week_starting, item, region, n_answers, mean_answer, worst_answer, normal (mean of the week's own normals;
        null while it is being learned), n_days_above.
    """
    starts, mondays = week_starts(grid)
    answers, normal = item.answers, item.normal.mean
    n = week_sum(answers.known.astype(np.float64), starts)
    both = answers.known & normal.known
    n_normal = week_sum(both.astype(np.float64), starts)
    above = item.held.score.known & (item.held.score.value >= ABOVE_SCORE) & (item.held.excess.value >= ABOVE_EXCESS)
    worst = np.maximum.reduceat(np.where(answers.known, answers.value, -np.inf), starts, axis=1)
    row, week = np.nonzero(n > 0)
    mean = week_sum(answers.value, starts) / np.maximum(n, 1)
    own = week_sum(np.where(both, normal.value, 0.0), starts) / np.maximum(n_normal, 1)
    days = pl.Series([grid.first_on + timedelta(days=monday) for monday in mondays], dtype=pl.Date)
    frame = pl.DataFrame(
        {
            "player_id": pl.Series(grid.players, dtype=pl.String).gather(row),
            "week_starting": days.gather(week),
            "n_answers": n[row, week].astype(np.int64),
            "mean_answer": item.sign * mean[row, week],
            "worst_answer": item.sign * worst[row, week],
            "normal": item.sign * own[row, week],
            "has_normal": n_normal[row, week] > 0,
            "n_days_above": week_sum(above.astype(np.float64), starts)[row, week].astype(np.int64),
        }
    )
    named = frame.with_columns(
        item=pl.lit(item.name), region=pl.lit(item.region), normal=pl.when("has_normal").then("normal").otherwise(None)
    )
    return named.select(
        "player_id", "week_starting", "item", "region", "n_answers", "mean_answer", "worst_answer", "normal", "n_days_above"
    )


def body_days(item: BodyItem, grid: DayGrid, first_column: int) -> pl.DataFrame:
    """Each answered player-day of an item from a column of the grid on, with the own normal and the last answers.

    Returns
    -------
    polars.DataFrame
        player_id, on_date, item, region, answer, percentile, normal, normal_spread, n_normal, recent (mean of the last 3, 5 or 8
        answers), n_recent, score, p_value, reason (``""``, ``learning_normal``, ``too_few_recent``). Null where unknown.
    """
    answers, normal, above, sign = item.answers, item.normal, item.held, item.sign
    keep = answers.known & (np.arange(grid.n_days) >= first_column)
    spread, n_normal = readings(normal.spread, normal.mean.known), normal.n.astype(np.float64)
    frame = grid.frame(
        {
            "answer": readings(sign * answers.value, answers.known),
            "percentile": display_percentile(answers, first_column),
            "normal": readings(sign * normal.mean.value, normal.mean.known),
            "normal_spread": spread,
            "n_normal": readings(n_normal, answers.known),
            "recent": readings(sign * above.recent.value, above.recent.known),
            "n_recent": readings(above.n_answers.astype(np.float64), above.recent.known),
            "score": above.score,
            "p_value": item.above.p_value,
        },
        keep=keep,
    )
    reason = (
        pl.when(pl.col("normal").is_null())
        .then(pl.lit("learning_normal"))
        .when(pl.col("recent").is_null())
        .then(pl.lit("too_few_recent"))
        .otherwise(pl.lit(""))
    )
    return frame.select(
        "player_id",
        "on_date",
        pl.lit(item.name).alias("item"),
        pl.lit(item.region).alias("region"),
        "answer",
        "percentile",
        "normal",
        "normal_spread",
        pl.col("n_normal").cast(pl.Int64),
        "recent",
        pl.col("n_recent").cast(pl.Int64),
        "score",
        "p_value",
        reason.alias("reason"),
    )
