"""The trend where a chart has confirmed shifts: filtered anew from before each, and told by that until the next is confirmed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.trend.grid import standard_grid
from pipelines.measures.trend.points import TrendPoints, trend_history
from pipelines.measures.trend.series import SeriesBatch, packed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipelines.measures.shift.run import Shift

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

HISTORY_DAYS = 180.0
"""After a shift the trend is filtered anew from so many days before it."""

JUMP_VARIANCE = 25.0
"""Extra variance of the level where a shift was dated [scale units squared]."""


@dataclass(frozen=True)
class _Runs:
    """R stretches of series, each filtered for itself: (R,) arrays.

    Attributes
    ----------
    series : array
    begin, end : arrays
        Sessions that are filtered.
    since : array
        The first of them that is told by this run: where its shift was confirmed, else the first session.
    """

    series: Integers
    begin: Integers
    since: Integers
    end: Integers


def with_jumps(batch: SeriesBatch, worthwhile: Floats, first: Integers, shifts: Sequence[Shift]) -> tuple[TrendPoints, Floats]:
    """Points and levels of series whose level jumped where their charts say so.

    Parameters
    ----------
    batch : SeriesBatch
        ``jump_variance`` is not read.
    worthwhile : (N, S) array
        See :func:`pipelines.measures.trend.points.trend_history`.
    first : (S,) array of int
        The first session of each series whose point is asked for.
    shifts : sequence of Shift
        What the charts have confirmed; no two of a series at one session.

    Returns
    -------
    TrendPoints, (N, S) array
        Points from the first told on, ordered by series and session; the level after every session of every series.

    Notes
    -----
    Each session is told by the run of the last shift that was confirmed by then: filtered from 180 days before the shift, with a
    free jump there, and at shifts before it. No run goes on beyond the session at which the next shift is confirmed.

    Source: own rule
    Checked: tests/unit/test_follow.py
    """
    runs = _runs(batch, shifts)
    number = np.repeat(np.arange(runs.series.size), runs.end - runs.begin)
    local = np.arange(number.size) - np.searchsorted(number, number)
    steps, of = local + runs.begin[number], runs.series[number]
    days, values, noise, limits = (array[steps, of] for array in (batch.days, batch.values, batch.noise_variance, worthwhile))
    again = packed(number, runs.series.size, days, values, noise, _jumps(runs, shifts, number.size))
    side_by_side = packed(number, runs.series.size, days, limits, noise, noise).values
    points, jumped = trend_history(again, side_by_side, standard_grid(), np.maximum(first[runs.series], runs.since) - runs.begin)
    told, levels = steps >= runs.since[number], np.zeros_like(batch.values)
    levels[steps[told], of[told]] = jumped[local[told], number[told]]
    return _of_series(points, runs), levels


def _runs(batch: SeriesBatch, shifts: Sequence[Shift]) -> _Runs:
    """One run of each series from its first session, then one of each shift, by series and session."""
    n = batch.lengths.size
    ordered = _ordered(shifts)
    of, since = (np.array([getattr(one, name) for one in ordered], dtype=np.int64) for name in ("series", "signal_step"))
    until = np.append(since[1:], 0)
    is_last = np.append(of[1:] != of[:-1], True)[: of.size]
    end = np.where(is_last, batch.lengths[of], until[: of.size])
    plain_end, is_first = batch.lengths.copy(), np.append(True, of[1:] != of[:-1])[: of.size]
    plain_end[of[is_first]] = since[is_first]
    zero = np.zeros(n, dtype=np.int64)
    begin = np.array([_begin(batch, one) for one in ordered], dtype=np.int64)
    return _Runs(
        series=np.append(np.arange(n), of),
        begin=np.append(zero, begin),
        since=np.append(zero, since),
        end=np.append(plain_end, end),
    )


def _ordered(shifts: Sequence[Shift]) -> list[Shift]:
    return sorted(shifts, key=lambda one: (one.series, one.signal_step))


def _begin(batch: SeriesBatch, shift: Shift) -> int:
    days = batch.days[: batch.lengths[shift.series], shift.series]
    return int(np.searchsorted(days, days[shift.began_step] - HISTORY_DAYS))


def _jumps(runs: _Runs, shifts: Sequence[Shift], n_rows: int) -> Floats:
    """Variance of a jump before each session of each run: where its shift began, and those of the series before it."""
    jumps = np.zeros(n_rows)
    starts = np.cumsum(runs.end - runs.begin) - (runs.end - runs.begin)
    ordered = _ordered(shifts)
    n = runs.series.size - len(ordered)
    for last, shift in enumerate(ordered):
        run = n + last
        for earlier in reversed(ordered[: last + 1]):
            if earlier.series != shift.series:
                break
            if runs.begin[run] <= earlier.began_step < runs.end[run]:
                jumps[starts[run] + earlier.began_step - runs.begin[run]] = JUMP_VARIANCE
    return jumps


def _of_series(points: TrendPoints, runs: _Runs) -> TrendPoints:
    """Points of runs as those of their series."""
    steps, series = points.steps + runs.begin[points.series], runs.series[points.series]
    order = np.lexsort((steps, series))
    told = replace(points, steps=steps, series=series)
    return TrendPoints(**{name: getattr(told, name)[order] for name in TrendPoints.__dataclass_fields__})
