"""The trend where a chart has confirmed shifts: filtered anew from before each, and told by that until the next is confirmed.

What stands of the sessions of closed months is gone on from.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.trend.filter import Start
from pipelines.measures.trend.grid import standard_grid
from pipelines.measures.trend.points import TrendPoints, first_read, trend_history
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

    def of(self, asked: tuple[Integers, Integers]) -> _Runs:
        """Those that tell any session from the first of two on, of each series."""
        needed = np.flatnonzero(self.end > np.minimum(*asked)[self.series])
        return _Runs(self.series[needed], self.begin[needed], self.since[needed], self.end[needed])


@dataclass(frozen=True)
class Standing:
    """What stands of the trends of S series, each up to one of its sessions.

    Attributes
    ----------
    n : (S,) array of int
        Sessions of each series that it holds; 0: nothing.
    at, since : (S,) arrays of int
        The session to which its state leads, and the one at which the shift of its run was confirmed (0: none was).
    state : (S, 6, G) array
        See :class:`pipelines.measures.trend.filter.Start`; 0 where the run begins at ``at``.
    levels : (N, S) array
        After each of the n sessions [scale units].
    """

    n: Integers
    at: Integers
    since: Integers
    state: Floats
    levels: Floats

    @staticmethod
    def nothing(batch: SeriesBatch) -> Standing:
        """Of series of which nothing stands."""
        n, at, since = (np.zeros_like(batch.lengths) for _ in range(3))
        return Standing(n, at, since, np.zeros((n.size, 6, standard_grid().n_points)), np.zeros_like(batch.values))


def with_jumps(
    batch: SeriesBatch,
    worthwhile: Floats,
    first: Integers,
    shifts: Sequence[Shift],
    standing: Standing | None = None,
    closing: Integers | None = None,
) -> tuple[TrendPoints, Floats, Standing]:
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
    standing : Standing, optional
        What stands of no more sessions than up to ``first``, and goes on.
    closing : (S,) array of int, optional
        Of how many sessions of each series it is to stand from now on, no fewer than of ``standing``; 0: it is not asked.

    Returns
    -------
    TrendPoints, (N, S) array, Standing
        Points from the first told on, ordered by series and session; the level after every session of every series; and what
        stands of the sessions before ``closing``.

    Notes
    -----
    Each session is told by the run of the last shift that was confirmed by then: filtered from 180 days before the shift, with a
    free jump there, and at shifts before it. No run goes on beyond the session at which the next shift is confirmed. A state
    leads to the first session that a point of the last of the closed sessions reads: later points read none before it.

    Source: own rule
    Checked: tests/unit/test_follow.py
    """
    before = standing or Standing.nothing(batch)
    closing = np.zeros_like(batch.lengths) if closing is None else closing
    runs = _runs(batch, shifts).of((first, before.n))
    goes_on = (before.n > 0)[runs.series] & (before.since[runs.series] == runs.since)
    goes_on &= before.at[runs.series] > runs.begin
    begin = np.where(goes_on, before.at[runs.series], runs.begin)
    number = np.repeat(np.arange(runs.series.size), runs.end - begin)
    local = np.arange(number.size) - np.searchsorted(number, number)
    steps, of = local + begin[number], runs.series[number]
    days, values, noise, limits = (array[steps, of] for array in (batch.days, batch.values, batch.noise_variance, worthwhile))
    again = packed(number, runs.series.size, days, values, noise, _jumps(runs, begin, shifts, number.size))
    side_by_side = packed(number, runs.series.size, days, limits, noise, noise).values
    of_run, at = _closing(batch, runs, closing)
    closed = np.full(runs.series.size, -1)
    closed[of_run] = np.where(at > runs.begin[of_run], at - 1 - begin[of_run], -1)
    told_from = np.maximum(first[runs.series], runs.since) - begin
    start = _start(batch, runs, begin, goes_on, before)
    points, found, states = trend_history(again, side_by_side, standard_grid(), told_from, start, closed)
    levels = np.where(np.arange(batch.days.shape[0])[:, None] < before.n, before.levels, 0.0)
    told = steps >= runs.since[number]
    levels[steps[told], of[told]] = found[local[told], number[told]]
    return (
        _of_series(points, runs, begin),
        levels,
        replace(_standing(batch, runs, of_run, at, states, before, closing), levels=levels),
    )


def _start(batch: SeriesBatch, runs: _Runs, begin: Integers, goes_on: NDArray[np.bool_], before: Standing) -> Start | None:
    if not goes_on.any():
        return None
    day, origin = batch.days[np.maximum(begin - 1, 0), runs.series], batch.values[runs.begin, runs.series]
    return Start(goes_on, before.state[runs.series], day, origin)


def _closing(batch: SeriesBatch, runs: _Runs, closing: Integers) -> tuple[Integers, Integers]:
    """Runs that tell the last of the closed sessions of a series, and the first session that its point reads of each."""
    last = closing[runs.series] - 1
    of_run = np.flatnonzero((last >= 0) & (runs.since <= last) & (last < runs.end))
    at = [int(runs.begin[run]) + first_read(batch.days[runs.begin[run] : last[run] + 1, runs.series[run]]) for run in of_run]
    return of_run, np.array(at, dtype=np.int64)


def _standing(
    batch: SeriesBatch, runs: _Runs, of_run: Integers, at: Integers, states: Floats, before: Standing, closing: Integers
) -> Standing:
    """What stands from now on, but for its levels: the state told, or the one gone on from where it leads there still."""
    series, now = runs.series[of_run], Standing.nothing(batch)
    now.n[series], now.at[series], now.since[series] = closing[series], at, runs.since[of_run]
    is_same = (before.n[series] > 0) & (before.since[series] == runs.since[of_run]) & (before.at[series] == at)
    now.state[series] = np.where(is_same[:, None, None], before.state[series], states[of_run])
    return now


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


def _jumps(runs: _Runs, begin: Integers, shifts: Sequence[Shift], n_rows: int) -> Floats:
    """Variance of a jump before each session of each run from ``begin`` on: where its shift began, and those before it."""
    jumps = np.zeros(n_rows)
    starts = np.cumsum(runs.end - begin) - (runs.end - begin)
    of_series: dict[int, list[Shift]] = {}
    for shift in shifts:
        of_series.setdefault(shift.series, []).append(shift)
    for run in np.flatnonzero(runs.since > 0):
        for shift in of_series[int(runs.series[run])]:
            if shift.signal_step <= runs.since[run] and begin[run] <= shift.began_step < runs.end[run]:
                jumps[starts[run] + shift.began_step - begin[run]] = JUMP_VARIANCE
    return jumps


def _of_series(points: TrendPoints, runs: _Runs, begin: Integers) -> TrendPoints:
    """Points of runs as those of their series."""
    steps, series = points.steps + begin[points.series], runs.series[points.series]
    order = np.lexsort((steps, series))
    told = replace(points, steps=steps, series=series)
    return TrendPoints(**{name: getattr(told, name)[order] for name in TrendPoints.__dataclass_fields__})
