"""The change over four weeks, with its right variance: a copy of the level of four weeks ago is carried along to each session."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.trend.filter import FilterPass
from pipelines.measures.trend.grid import WINDOW_DAYS, TrendGrid
from pipelines.measures.trend.series import SeriesBatch

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_ROWS_AT_ONCE = 2000  # so many points stay in the processor's cache


@dataclass(frozen=True)
class Change:
    """Change of the level over the last four weeks at P points, by grid point.

    Attributes
    ----------
    mean, variance : (P, G) arrays
        [scale units], [squared]; undefined where not ``known``.
    known : (P,) array of bool
        The series has a session at least four weeks before.
    """

    mean: Floats
    variance: Floats
    known: NDArray[np.bool_]


def four_week_change(
    batch: SeriesBatch, grid: TrendGrid, done: FilterPass, steps: Integers, series: Integers, start: Integers
) -> Change:
    """The change at some sessions of some series.

    Parameters
    ----------
    batch, grid, done
        What the filter read and returned.
    steps, series : (P,) arrays
        Session and series of each point.
    start : (P,) array
        Of each, the session that :func:`last_session_before` names; states are kept from the first of these on.

    Returns
    -------
    Change

    Notes
    -----
    Clone ``c`` of the level at the moment ``T - 28 d``: at each later session ``c += cov(c, level) * push``,
    ``var(c) -= cov(c, level)**2 * pull``, and the covariances follow the filter's own update. No backward pass is needed, and
    nothing after the session is read.

    Source: [DurbinKoopman2012] (state augmentation)
    Checked: tests/unit/test_trend_filter.py (equal to a Kalman filter with the clone as a third state)
    """
    known = start >= 0
    mean, variance = np.zeros((steps.size, grid.n_points)), np.ones((steps.size, grid.n_points))
    order = np.flatnonzero(known)[np.argsort(-(steps - start)[known], kind="stable")]
    for begin in range(0, order.size, _ROWS_AT_ONCE):
        rows = order[begin : begin + _ROWS_AT_ONCE]
        mean[rows], variance[rows] = _carried(batch, grid, done, steps[rows], series[rows], start[rows])
    return Change(mean, np.maximum(variance, 1e-12), known)


def last_session_before(batch: SeriesBatch) -> Integers:
    """Session at or before ``T - 28 d`` of each session of each series, (N, S); -1 where there is none.

    Source: own rule. Checked: tests/unit/test_trend_filter.py
    """
    start = np.full(batch.days.shape, -1, dtype=np.int64)
    for column, length in enumerate(batch.lengths):
        days = batch.days[:length, column]
        start[:length, column] = four_weeks_back(days, days)
    return start


def four_weeks_back(days: Floats, moments: Floats) -> Integers:
    """Place of the last of some days at or before ``T - 28 d``, of each moment T; -1 where there is none.

    Source: own rule. Checked: tests/unit/test_trend_filter.py
    """
    return np.asarray(np.searchsorted(days, moments - WINDOW_DAYS, side="right") - 1)


def _carried(
    batch: SeriesBatch, grid: TrendGrid, done: FilterPass, steps: Integers, series: Integers, start: Integers
) -> tuple[Floats, Floats]:
    """Mean and variance of the change; points ordered by falling number of sessions in between."""
    moment = batch.days[steps, series] - WINDOW_DAYS
    gap = (moment - batch.days[start, series])[:, None]
    then = start - done.begin, series
    slope_variance, cross = done.slope_variance[then], done.covariance[then]
    clone = done.level[then] + gap * done.slope[then]
    variance = done.level_variance[then] + gap * (2.0 * cross + gap * slope_variance + grid.level_variance)
    variance += gap**3 / 3.0 * grid.slope_variance
    with_level, with_slope = variance.copy(), cross + gap * (slope_variance + gap / 2.0 * grid.slope_variance)
    between = steps - start
    for ahead in range(1, int(between.max(initial=0)) + 1):
        n = int(np.searchsorted(-between, -ahead, side="right"))
        at, of = start[:n] + ahead, series[:n]
        gap = (batch.days[at, of] - np.maximum(moment[:n], batch.days[at - 1, of]))[:, None]
        level, slope, kept = with_level[:n], with_slope[:n], (at - done.begin, of)
        level += gap * slope
        clone[:n] += level * done.push[kept]
        pulled = level * done.pull[kept]
        variance[:n] -= level * pulled
        slope -= pulled * done.cross[kept]
        level -= pulled * done.reach[kept]
    now = steps - done.begin, series
    change = done.level[now] - clone
    return change, done.level_variance[now] + variance - 2.0 * with_level
