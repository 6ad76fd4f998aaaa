"""A player's level over the last twelve weeks, drawn toward the squad where own data are few."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl

from pipelines.measures.baseline.shrinkage import shrunken_levels
from pipelines.measures.trend.observations import natural
from pipelines.measures.trend.points import interval_factor

WINDOW_DAYS = 84

_SCHEMA = {
    "player_id": pl.String(),
    "club_group": pl.String(),
    "metric": pl.String(),
    "own_x": pl.Float64(),
    "x": pl.Float64(),
    "half": pl.Float64(),
    "squad_share": pl.Float64(),
    "n_sessions": pl.Int64(),
    "n_shots": pl.Int64(),
    "learning": pl.Boolean(),
}


def baselines(points: pl.DataFrame, as_of: dt.date, learning_sessions: int) -> pl.DataFrame:
    """Level of every player, quantity and group of clubs in the twelve weeks up to ``as_of``.

    Parameters
    ----------
    points : polars.DataFrame
        Points, or sessions, of :class:`pipelines.measures.trend.assembly.Trends`, in the change unit; of one quantity or more.
    as_of : datetime.date
    learning_sessions : int
        Sessions in all below which the normal is still being learned.

    Returns
    -------
    polars.DataFrame
        Rows of ``baseline``, sorted by metric, group and player.

    Notes
    -----
    Own level: mean of the sessions, weighted by ``1 / (tau**2 + s**2 / n)``. With three players or more it is drawn toward the
    squad's mean (:func:`shrunken_levels`); with fewer it stands as it is and the squad's share is null.

    Source: [Rubin1981]
    Checked: tests/unit/test_levels.py
    """
    recent = points.filter(pl.col("on_date") > as_of - dt.timedelta(days=WINDOW_DAYS), pl.col("on_date") <= as_of)
    ever = points.group_by("metric", "club_group", "player_id").agg(pl.len().alias("n_ever"))
    weight = 1.0 / pl.col("variance")
    own = (
        recent.group_by("metric", "club_group", "player_id")
        .agg(
            ((pl.col("x") * weight).sum() / weight.sum()).alias("own_x"),
            (1.0 / weight.sum()).alias("own_variance"),
            pl.len().cast(pl.Int64).alias("n_sessions"),
            pl.col("n").cast(pl.Int64).sum().alias("n_shots"),
        )
        .join(ever, on=["metric", "club_group", "player_id"])
        .with_columns((pl.col("n_ever") < learning_sessions).alias("learning"), pl.col(pl.Categorical).cast(pl.String))
        .sort("metric", "club_group", "player_id")
    )
    parts = [_drawn(part) for part in own.partition_by("metric", "club_group", maintain_order=True)]
    whole = pl.concat(parts) if parts else pl.DataFrame(schema=_SCHEMA)
    metric = pl.col("metric")
    return whole.select(
        "player_id", "club_group", "metric",
        natural(pl.col("own_x"), metric).alias("own_level"),
        natural(pl.col("x"), metric).alias("level"),
        natural(pl.col("x") - pl.col("half"), metric).alias("level_low"),
        natural(pl.col("x") + pl.col("half"), metric).alias("level_high"),
        "squad_share", "n_sessions", "n_shots", "learning",
    )  # fmt: skip


def _drawn(part: pl.DataFrame) -> pl.DataFrame:
    values, variances = part["own_x"].to_numpy(), part["own_variance"].to_numpy()
    if values.size < 3:
        x, sd, share = values, np.sqrt(variances), np.full(values.size, np.nan)
    else:
        drawn = shrunken_levels(values - values.mean(), variances)
        x, sd, share = drawn.level + values.mean(), drawn.sd, drawn.squad_share
    columns = {"x": x, "half": interval_factor() * sd, "squad_share": share}
    return part.with_columns(pl.Series(name, array).fill_nan(None) for name, array in columns.items()).select(*_SCHEMA)
