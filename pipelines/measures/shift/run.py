"""The charts of all series from the first session to the last, with confirmed shifts and fresh starts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.shift.dating import shift_began_at
from pipelines.measures.shift.self_starting import ChartBaseline, ChartSettings
from pipelines.measures.trend.series import SeriesBatch

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_DATED_SESSIONS = 60  # a shift that was just found did not begin before so many sessions


@dataclass(frozen=True)
class Shift:
    """One confirmed shift.

    Attributes
    ----------
    series, alarm_step, began_step : int
        The series; the session at which the chart found it; the first session at the new level.
    upward : bool
    """

    series: int
    alarm_step: int
    began_step: int
    upward: bool


@dataclass(frozen=True)
class ChartRun:
    """Charts of S series over N sessions; all arrays (N, S), undefined beyond a series' length.

    Attributes
    ----------
    scores : array
        Normal score of each session against what was normal before it.
    up, down : arrays
        Cumulative sums after each session.
    normal, normal_sd, normal_n : arrays
        What was normal before the session: mean, standard deviation of such a session, and own sessions behind it.
    shifts : tuple of Shift
        By alarm step and series.
    """

    scores: Floats
    up: Floats
    down: Floats
    normal: Floats
    normal_sd: Floats
    normal_n: Floats
    shifts: tuple[Shift, ...]


@dataclass
class _Charts:
    batch: SeriesBatch
    variance: Floats
    settings: ChartSettings
    normal: ChartBaseline
    up: Floats
    down: Floats
    up_since: Integers
    down_since: Integers
    started: Integers
    pending: dict[int, Shift]


def chart_run(batch: SeriesBatch, variance: Floats, settings: ChartSettings | None = None) -> ChartRun:
    """Charts over all sessions of all series.

    Parameters
    ----------
    batch : SeriesBatch
        ``jump_variance`` is not read.
    variance : (N, S) array
        What the squad, as known by then, leads to expect of each session value: ``tau**2 + s**2 / n`` [as values, squared].
    settings : ChartSettings, optional

    Returns
    -------
    ChartRun

    Notes
    -----
    ``C+ = max(0, C+ + Q - k)``, ``C- = max(0, C- - Q - k)`` on the scores of :class:`ChartBaseline`. A sum that reaches
    ``confirm_at`` confirms a shift, which is dated; ``settle_days`` later the normal is learned anew from the sessions since that
    date and both sums begin at 0. Nothing looks ahead.

    Source: [Hawkins1987], [Quesenberry1991], [HawkinsOlwell1998]
    Checked: tests/unit/test_self_starting.py, tests/benchmarks/detection
    """
    settings = settings or ChartSettings()
    n, series = batch.days.shape
    zero, first = np.zeros(series), np.zeros(series, dtype=np.int64)
    normal = ChartBaseline.unknown(series, settings)
    charts = _Charts(batch, variance, settings, normal, zero.copy(), zero.copy(), first.copy(), first.copy(), first.copy(), {})
    stack = np.zeros((6, n, series))
    shifts: list[Shift] = []
    for step in range(n):
        there = step < batch.lengths
        _begin_anew(charts, step, there)
        stack[3:, step] = normal.mean, normal.sd(variance[step]), normal.own
        stack[:3, step] = _score(charts, step, there)
        shifts.extend(_confirmed(charts, step, there))
        normal.learn(batch.values[step], np.where(there, variance[step], 1.0), there, settings)
    scores, up, down, usual, usual_sd, own = stack
    return ChartRun(scores, up, down, usual, usual_sd, own, tuple(shifts))


def next_sums(up: Floats, down: Floats, scores: Floats, slack: Floats | float) -> tuple[Floats, Floats]:
    """Upper and lower cumulative sums after one more score of each series, in the unit of the scores; both at least 0.

    Notes
    -----
    ``C+ = max(0, C+ + Q - k)``, ``C- = max(0, C- - Q - k)``.

    Source: [NistCusum]
    Checked: tests/published/test_nist_charts.py
    """
    return np.maximum(0.0, up + scores - slack), np.maximum(0.0, down - scores - slack)


def _score(charts: _Charts, step: int, there: NDArray[np.bool_]) -> tuple[Floats, Floats, Floats]:
    settings, normal = charts.settings, charts.normal
    variance = np.where(there, charts.variance[step], 1.0)
    ready = there & (normal.own >= settings.learning_sessions)
    scores = np.where(ready, normal.scores(charts.batch.values[step], variance, settings), 0.0)
    slack = np.where(ready, settings.slack, 0.0)
    charts.up, charts.down = next_sums(charts.up, charts.down, scores, slack)
    charts.up_since = np.where(charts.up > 0, charts.up_since, step + 1)
    charts.down_since = np.where(charts.down > 0, charts.down_since, step + 1)
    return scores, charts.up, charts.down


def _confirmed(charts: _Charts, step: int, there: NDArray[np.bool_]) -> list[Shift]:
    found = []
    above = there & (np.maximum(charts.up, charts.down) >= charts.settings.confirm_at)
    for series in np.flatnonzero(above):
        if series not in charts.pending:
            charts.pending[int(series)] = _dated(charts, step, int(series))
            found.append(charts.pending[int(series)])
    return found


def _dated(charts: _Charts, step: int, series: int) -> Shift:
    begin = max(int(charts.started[series]), step + 1 - _DATED_SESSIONS)
    upward = bool(charts.up[series] > charts.down[series])
    since = int((charts.up_since if upward else charts.down_since)[series])
    window = charts.batch.values[begin : step + 1, series]
    sd = float(charts.normal.sd(charts.variance[step])[series])
    began = begin + shift_began_at(window, sd, upward=upward, since=max(since - begin, 0))
    return Shift(series, step, began, upward)


def _begin_anew(charts: _Charts, step: int, there: NDArray[np.bool_]) -> None:
    batch = charts.batch
    for series, shift in list(charts.pending.items()):
        if not there[series]:
            continue
        if batch.days[step, series] - batch.days[shift.alarm_step, series] >= charts.settings.settle_days:
            past = slice(shift.began_step, step)
            charts.normal.restart(series, batch.values[past, series], charts.variance[past, series], charts.settings)
            charts.up[series] = charts.down[series] = 0.0
            charts.started[series] = shift.began_step
            del charts.pending[series]
