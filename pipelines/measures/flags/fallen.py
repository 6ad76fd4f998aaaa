"""How far a player who still grows lies below what was reached before: growth may stop, but it takes nothing away."""

from __future__ import annotations

import polars as pl

from pipelines.measures.trend.points import interval_factor
from pipelines.measures.trend.season import of_season

MEAN_DAYS, FEWEST_SESSIONS = 28, 4
NEWEST_DAYS, OLDEST_DAYS = 14, 120
"""Means of four weeks that ended 14 to 120 days ago: what was reached. Own choice."""


def fallen(rows: pl.DataFrame, stream: tuple[str, ...]) -> pl.DataFrame:
    """How far the level lies below the highest mean of four weeks of the months before, and the standard error of that.

    Parameters
    ----------
    rows : polars.DataFrame
        One row a stream and day: the columns of a stream, on_date, x, variance, level, level_half, season_sine and season_cosine
        (as known in the quarter); all in the change unit.
    stream : tuple of str

    Returns
    -------
    polars.DataFrame
        In the order of the rows: fallen, fallen_error [change unit]; null before there are four sessions in four weeks.

    Notes
    -----
    Weighted means of the sessions of 28 days, without the season, of which the highest that ended 14 to 120 days ago is taken.
    Expected growth is no part of it: in a spurt a player is expected to go on as in the months before, and is below that when it
    ends, but not below what was reached.

    Source: own rule
    Checked: tests/unit/test_fallen.py, tests/benchmarks/detection
    """
    day = rows["on_date"].cast(pl.Int32).cast(pl.Float64).to_numpy()
    season = pl.Series("season", of_season((rows["season_sine"].to_numpy(), rows["season_cosine"].to_numpy()), day))
    weight = (1.0 / pl.col("variance")).alias("weight")
    known = rows.select(*stream, "on_date", pl.col("x") - season, pl.col("level") - season, "level_half", weight)
    known = known.with_row_index("row")
    total, n = (_in_four_weeks(one, stream) for one in (pl.col("weight"), pl.col("weight").is_not_null().cast(pl.Float64)))
    mean = pl.when(n >= FEWEST_SESSIONS).then(_in_four_weeks(pl.col("weight") * pl.col("x"), stream) / total)
    reached = known.with_columns(mean.alias("mean"), (1.0 / total).alias("mean_variance")).select(
        *stream,
        (pl.col("on_date") + pl.duration(days=NEWEST_DAYS)).alias("known_on"),
        pl.col("mean").rolling_max_by("on_date", f"{OLDEST_DAYS - NEWEST_DAYS}d").over(stream).alias("reached"),
        "mean_variance",
    )
    error = ((pl.col("level_half") / interval_factor()) ** 2 + pl.col("mean_variance")).sqrt()
    return (
        known.sort("on_date")
        .join_asof(reached.sort("known_on"), left_on="on_date", right_on="known_on", by=stream, check_sortedness=False)
        .sort("row")
        .select((pl.col("reached") - pl.col("level")).alias("fallen"), error.alias("fallen_error"))
    )


def _in_four_weeks(value: pl.Expr, stream: tuple[str, ...]) -> pl.Expr:
    return value.rolling_sum_by("on_date", f"{MEAN_DAYS}d").over(stream)
