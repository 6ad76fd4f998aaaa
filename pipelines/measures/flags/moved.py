"""What was lost of what had been reached, and what was gained within eight weeks, whatever course was expected."""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.trend.gain_ratio import cut_to_neighbours, log_ratio_of_gain, own_over_squad
from pipelines.measures.trend.season import of_season

MEAN_DAYS, FEWEST_SESSIONS = 28, 4
NEWEST_DAYS, OLDEST_DAYS = 14, 120
"""Means of four weeks that ended 14 to 120 days ago: what was reached. Own choice."""

GAIN_DAYS, GAIN_REACH = 42, 28
"""A gain is measured from the mean of four weeks that ended 42 days ago, or up to 28 days earlier where there was a break: its
middle lies eight weeks back. Own choice."""

GROWTH_DAYS = 365.0
"""Growth is told by the sessions of so many days before the quarter, and those of the quarter. Own choice."""


def moved(rows: pl.DataFrame, stream: tuple[str, ...]) -> pl.DataFrame:
    """How far the level lies below the best and above the mean of some weeks before, and the standard errors of both.

    Parameters
    ----------
    rows : polars.DataFrame
        One row a stream and day: the columns of a stream, on_date, x, variance, level, level_error, season_sine and season_cosine
        (as known in the quarter), growth (of a junior's class a year; 0 of others); all in the change unit.
    stream : tuple of str

    Returns
    -------
    polars.DataFrame
        In the order of the rows: fallen, fallen_error, gained, gained_error [change unit]; null before there are four sessions in
        four weeks, and gained where there are none so long ago.

    Notes
    -----
    Weighted means of the sessions of 28 days, without the season. Fallen: below the highest that ended 14 to 120 days ago;
    gained: above the one that ended 42 days ago. Expected growth is no part of either: in a spurt a player is expected to go on
    as in the months before, and is below that when it ends, but not below what was reached; and growth makes less in eight weeks
    than in the months for which a normal is held.

    Source: own rule
    Checked: tests/unit/test_moved.py, tests/benchmarks/detection
    """
    day = rows["on_date"].cast(pl.Int32).cast(pl.Float64).to_numpy()
    season = pl.Series("season", of_season((rows["season_sine"].to_numpy(), rows["season_cosine"].to_numpy()), day))
    weight = (1.0 / pl.col("variance")).alias("weight")
    known = rows.select(*stream, "on_date", pl.col("x") - season, pl.col("level") - season, "level_error", weight)
    known = known.with_row_index("row")
    total, n = (_in_four_weeks(one, stream) for one in (pl.col("weight"), pl.col("weight").is_not_null().cast(pl.Float64)))
    mean = pl.when(n >= FEWEST_SESSIONS).then(_in_four_weeks(pl.col("weight") * pl.col("x"), stream) / total)
    means = known.with_columns(mean.alias("mean"), (1.0 / total).alias("mean_variance"))
    best = pl.col("mean").rolling_max_by("on_date", f"{OLDEST_DAYS - NEWEST_DAYS}d").over(stream)
    reached = _known_after(means.with_columns(best.alias("reached")), NEWEST_DAYS, stream, "reached")
    before = _known_after(means.with_columns(pl.col("mean").alias("before")), GAIN_DAYS, stream, "before")
    at = known.sort("on_date")
    at = at.join_asof(reached, on="on_date", by=stream, check_sortedness=False)
    at = at.join_asof(before, on="on_date", by=stream, tolerance=f"{GAIN_REACH}d", check_sortedness=False)
    return at.sort("row").select(
        (pl.col("reached") - pl.col("level")).alias("fallen"),
        _error("reached_variance").alias("fallen_error"),
        (pl.col("level") - pl.col("before")).alias("gained"),
        _error("before_variance").alias("gained_error"),
    )


def gain_ratios(rows: pl.DataFrame, stream: tuple[str, ...], asked: pl.Expr) -> pl.Series:
    """How much likelier a junior's sessions are with a gain within two months than by growth alone (natural logarithm).

    Parameters
    ----------
    rows, stream
        See :func:`moved`; series after series.
    asked : polars.Expr
        Of which points it is asked: each takes as long as hundreds of others of their means.

    Returns
    -------
    polars.Series
        ``gain_ratio``, in the order of the rows; null where it is not asked, where there is no level, and of those who do not
        grow.

    Notes
    -----
    Each is told with the growth and the season known in its quarter, by the sessions of a year before it and those of it.

    Source: own rule; see :func:`pipelines.measures.trend.gain_ratio.log_ratio_of_gain`
    Checked: tests/unit/test_moved.py
    """
    course = ("growth", "season_sine", "season_cosine")
    told = rows.select(
        *course,
        day=pl.col("on_date").cast(pl.Int32).cast(pl.Float64),
        x="x",
        variance="variance",
        asked=(asked & pl.col("level").is_not_null() & (pl.col("growth") > 0)).fill_null(value=False),
        series=pl.struct(stream).rle_id(),
        quarter=pl.struct(*stream, *course).rle_id(),
    )
    columns = {name: told[name].to_numpy() for name in told.columns}
    ratio = np.full(rows.height, np.nan)
    for (quarter,) in told.filter("asked").select("quarter").unique(maintain_order=True).rows():
        mine = np.flatnonzero(columns["quarter"] == quarter)
        own = slice(int(np.searchsorted(columns["series"], columns["series"][mine[0]])), int(mine[0]) + 1)
        begin = own.start + int(np.searchsorted(columns["day"][own], columns["day"][mine[0]] - GROWTH_DAYS))
        at = mine[columns["asked"][mine]]
        past = {name: column[begin : at[-1] + 1] for name, column in columns.items()}
        ratio[at] = _of_quarter(past, int(mine[0]) - begin, at - begin)
    return pl.Series("gain_ratio", ratio).fill_nan(None)


def _of_quarter(past: dict[str, NDArray[np.float64]], first: int, at: NDArray[np.int64]) -> NDArray[np.float64]:
    """Sessions up to the last that is asked for, with what was known at the first of the quarter."""
    season = float(past["season_sine"][-1]), float(past["season_cosine"][-1])
    values = cut_to_neighbours(past["x"] - of_season(season, past["day"]), past["variance"])
    own = own_over_squad(values, past["variance"])[max(first - 1, 0)]
    return log_ratio_of_gain(past["day"], values, own * past["variance"], float(past["growth"][-1]), at)


def _known_after(means: pl.DataFrame, days: int, stream: tuple[str, ...], name: str) -> pl.DataFrame:
    """One of the means, on the day on which it ended so many days ago."""
    since = (pl.col("on_date") + pl.duration(days=days)).alias("on_date")
    return means.select(*stream, since, name, pl.col("mean_variance").alias(f"{name}_variance")).sort("on_date")


def _error(variance: str) -> pl.Expr:
    return (pl.col("level_error") ** 2 + pl.col(variance)).sqrt()


def _in_four_weeks(value: pl.Expr, stream: tuple[str, ...]) -> pl.Expr:
    return value.rolling_sum_by("on_date", f"{MEAN_DAYS}d").over(stream)
