"""How much each player's form resembles that of the session before: own data, drawn toward the squad."""

from __future__ import annotations

import datetime as dt
from functools import partial

import numpy as np
import polars as pl

from pipelines.measures.estimates import Estimates, by_quarter
from pipelines.measures.trend.priors import CORRELATION

FAR_LAGS = (3, 4)
"""Sessions of one player so far apart are taken as not resembling each other."""

FEWEST_PAIRS, FEWEST_PLAYERS, HISTORY_DAYS = 20, 5, 365
CLIP, MOST = 2.5, 0.5

OWN_ERROR = 1.2
"""Variance of a player's own estimate times its pairs of neighbours (1.0 to 1.4).

Calibrated: own simulation.
"""

LEAST_BETWEEN = 0.25
"""Standard deviation between players before the squad's own data say more: few of slow form do not show in its spread.

Calibrated: own simulation.
"""

_NUMBER = "_series"
"""Column that numbers the series: of one number groups are found faster than of four names."""

_QUARTER = ("metric", "club_group", "from_on")


def resemblance(
    rows: pl.DataFrame, series: tuple[str, ...], estimates: Estimates | None = None
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lag-1 autocorrelation of form: of each player after each session, and of the squad by quarter.

    Parameters
    ----------
    rows : polars.DataFrame
        Sessions of one quantity, sorted by series and day: the columns of a series, metric, on_date, from_on (first day of the
        quarter), x, expected (course), variance; change unit.
    series : tuple of str
        Columns that name a series.
    estimates : Estimates, optional
        Those of before.

    Returns
    -------
    rows : polars.DataFrame
        Those given, with ``correlation`` (0 to 0.5) and ``correlation_error``, its standard error.
    quarters : polars.DataFrame
        metric, club_group, from_on, correlation.

    Notes
    -----
    ``r = 1 - mean(d_1**2) / mean(d_3**2, d_4**2)``, d_k the standardised difference of sessions k apart, cut at 2.5: a level that
    moves slowly is in both and cancels. Squad: mean over players with 20 pairs or more in the year before the quarter. Own:
    drawn toward it by ``A / (A + 1.2 / n)``, A the variance between players beyond that error; what then is not known of it has
    the variance ``A (1.2 / n) / (A + 1.2 / n)``. A value rests on sessions up to its own.

    Source: [VonNeumann1941] (the ratio), [Henderson1984] (drawing toward the squad)
    Checked: tests/unit/test_resemblance.py
    """
    sums = _with_sums(rows, series)
    quarters = _quarters(sums, series, estimates or Estimates())
    joined = sums.join(quarters, on=list(_QUARTER), how="left", maintain_order="left")
    between, error = pl.col("between"), OWN_ERROR / pl.col("near_n")
    share = pl.when(pl.col("near_n") > FAR_LAGS[-1]).then(between / (between + error)).otherwise(0.0)
    own = pl.when(share > 0).then(share * (_own() - pl.col("correlation"))).fill_nan(0.0).fill_null(0.0)
    told = joined.with_columns(
        (pl.col("correlation") + own).clip(0.0, MOST).alias("correlation"),
        (between * (1.0 - share)).sqrt().alias("correlation_error"),
    )
    return told.select(*rows.columns, "correlation", "correlation_error"), quarters.drop("between")


def _own() -> pl.Expr:
    return 1.0 - (pl.col("near") / pl.col("near_n")) / (pl.col("far") / pl.col("far_n"))


def _with_sums(rows: pl.DataFrame, series: tuple[str, ...]) -> pl.DataFrame:
    """Running sums of squared differences of near and of far sessions, and their numbers."""
    numbered = rows.with_columns(pl.struct(series).rle_id().alias(_NUMBER))

    def squares(lag: int) -> pl.Expr:
        left = pl.col("x") - pl.col("expected")
        difference = left - left.shift(lag).over(_NUMBER)
        return (difference / (pl.col("variance") + pl.col("variance").shift(lag).over(_NUMBER)).sqrt()).clip(-CLIP, CLIP) ** 2

    near, *far = (f"_squares_{lag}" for lag in (1, *FAR_LAGS))
    told = numbered.with_columns(squares(lag).alias(f"_squares_{lag}") for lag in (1, *FAR_LAGS))
    return told.with_columns(
        pl.col(near).fill_null(0.0).cum_sum().over(_NUMBER).alias("near"),
        pl.sum_horizontal(pl.col(one).fill_null(0.0) for one in far).cum_sum().over(_NUMBER).alias("far"),
        pl.col(near).is_not_null().cum_sum().over(_NUMBER).cast(pl.Float64).alias("near_n"),
        pl.sum_horizontal(pl.col(one).is_not_null().cast(pl.Int64) for one in far)
        .cum_sum()
        .over(_NUMBER)
        .cast(pl.Float64)
        .alias("far_n"),
    ).drop(_NUMBER, near, *far)


def _quarters(sums: pl.DataFrame, series: tuple[str, ...], estimates: Estimates) -> pl.DataFrame:
    """Mean and variance between players by quarter, from the year before it."""
    found = []
    for (metric, group), rows in sorted(sums.group_by("metric", "club_group", maintain_order=True), key=lambda item: item[0]):
        starts = rows["from_on"].unique().sort().to_list()
        read = rows.select(*series, "on_date", "near", "far", "near_n", "far_n")
        told = by_quarter(estimates, "resemblances", read, starts, partial(_of_quarter, series, estimates))
        found += [
            {"metric": metric, "club_group": group, "from_on": start, "correlation": mean, "between": between}
            for start, (mean, between) in zip(starts, told, strict=True)
        ]
    schema = {"metric": pl.String, "club_group": pl.String, "from_on": pl.Date, "correlation": pl.Float64, "between": pl.Float64}
    return pl.DataFrame(found, schema=schema)


def _of_quarter(series: tuple[str, ...], estimates: Estimates, rows: pl.DataFrame, start: dt.date) -> list[float]:
    """Mean and variance between players, from the year before a quarter."""
    since = start - dt.timedelta(days=HISTORY_DAYS)
    read = rows.filter(pl.col("on_date").is_between(since, start, closed="left")).drop("on_date")
    return estimates.once("resemblance", read, series, partial(_squad_by_quarter, read, series))


def _squad_by_quarter(read: pl.DataFrame, series: tuple[str, ...]) -> list[float]:
    newest = read.group_by(series, maintain_order=True).last()
    last = newest.filter(pl.col("near_n") >= FEWEST_PAIRS, pl.col("far") > 0)
    return list(_of_squad(last.select(_own().alias("own"))["own"].to_numpy(), last["near_n"].to_numpy()))


def _of_squad(own: np.ndarray, n: np.ndarray) -> tuple[float, float]:
    if own.size < FEWEST_PLAYERS:
        return CORRELATION, LEAST_BETWEEN**2
    spread = float(own.var(ddof=1) - (OWN_ERROR / n).mean())
    return float(np.clip(own.mean(), 0.0, MOST)), max(spread, LEAST_BETWEEN**2)
