"""The charts of all series from the first session to the last: episodes, confirmed shifts and fresh starts."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.shift.dating import shift_began_at
from pipelines.measures.shift.self_starting import ChartBaseline, ChartSettings
from pipelines.measures.trend.series import SeriesBatch

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_DATED_SESSIONS = 60  # a shift that was just found did not begin before so many sessions
_STEEPER = 2.0  # allowance of the steep sums over that of the others; their most is as much smaller
_RECENT = 0.2  # weight of the last session in the running mean of scores
_CLEARLY = 1.5  # standard errors by which the last three weeks must lie beyond the normal for a change to last
_NEWEST = (1, 2, 3)  # so many of the last sessions may say that the level has just come back
_MOST_DAYS = 120.0  # an episode that still moves is taken as lasting after so many days

ENDINGS: tuple[str, ...] = ("", "back", "lasting")
"""How an episode ends: back to the normal that it left, or the new level has lasted and is the normal from now on."""


@dataclass(frozen=True)
class Shift:
    """One confirmed shift.

    Attributes
    ----------
    series, signal_step, began_step : int
        The series; the session at which the chart found it; the first session at the new level.
    upward : bool
    """

    series: int
    signal_step: int
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
    steep_up, steep_down : arrays
        The same with an allowance of 1 and half of the most: a large shift shows in them after three sessions.
    normal, normal_sd, normal_n : arrays
        What was normal before the session: mean, standard deviation of such a session, and own sessions behind it.
    episode : array of int
        After the session: 1 while a rise is open, -1 while a fall is, else 0.
    ended : array of int
        An episode ended with the session: its number in ``ENDINGS``; else 0.
    shifts : tuple of Shift
        By alarm step and series.
    """

    scores: Floats
    up: Floats
    down: Floats
    steep_up: Floats
    steep_down: Floats
    normal: Floats
    normal_sd: Floats
    normal_n: Floats
    episode: Integers
    ended: Integers
    shifts: tuple[Shift, ...]


@dataclass
class _Episode:
    sign: int
    opened_step: int
    began_step: int


@dataclass
class _Charts:
    batch: SeriesBatch
    variance: Floats
    settings: ChartSettings
    normal: ChartBaseline
    learning: ChartBaseline
    up: Floats
    down: Floats
    recent: Floats
    up_since: Integers
    down_since: Integers
    started: Integers
    steep_up: Floats
    steep_down: Floats
    open: dict[int, _Episode] = field(default_factory=dict)
    confirmed: set[int] = field(default_factory=set)


def chart_run(
    batch: SeriesBatch, variance: Floats, settings: ChartSettings | None = None, expected: Floats | None = None
) -> ChartRun:
    """Charts over all sessions of all series.

    Parameters
    ----------
    batch : SeriesBatch
        ``jump_variance`` is not read.
    variance : (N, S) array
        What the squad, as known by then, leads to expect of each session value: ``tau**2 + s**2 / n`` [as values, squared].
    settings : ChartSettings, optional
    expected : (N, S) array, optional
        Course that is expected of each series (growth, season), as known by then; the normal lies about it.

    Returns
    -------
    ChartRun

    Notes
    -----
    ``C+ = max(0, C+ + Q - k)``, ``C- = max(0, C- - Q - k)`` on the scores of :class:`ChartBaseline`, cut at ``most``. At
    ``freeze_at`` an episode opens: the normal is that of the sessions before the sum last was 0, and learns nothing while the
    episode is open. The sums go on with a baseline that learns from every session: only of those is it known how often chance
    makes them large (against a normal that a chance run froze they would be so five times as often). It ends when the running
    mean of the scores is back at 0 or beyond, or, after ``settle_days``, the last three weeks lie at the normal, or (with
    ``settle_sessions`` since) where the three weeks before lay, unless its newest sessions lie at the normal again: then the
    normal is learned anew from the sessions since the shift. A sum that reaches ``confirm_at`` confirms a shift, which is
    dated. Nothing looks ahead. Steep sums open and confirm nothing: an allowance of half a shift finds that shift first, and 1
    those of two standard deviations, which who comes seldom must be told by three or four sessions.

    Source: [Hawkins1987], [Quesenberry1991], [HawkinsOlwell1998]
    Checked: tests/unit/test_self_starting.py, tests/benchmarks/detection
    """
    settings = settings or ChartSettings()
    course = np.zeros_like(batch.values) if expected is None else expected
    about = SeriesBatch(batch.days, batch.values - course, batch.noise_variance, batch.jump_variance, batch.lengths)
    n, series = batch.days.shape
    zero, first = np.zeros(series), np.zeros(series, dtype=np.int64)
    normal, learning = (ChartBaseline.unknown(series, settings) for _ in range(2))
    charts = _Charts(
        about,
        variance,
        settings,
        normal,
        learning,
        zero.copy(),
        zero.copy(),
        zero.copy(),
        first.copy(),
        first.copy(),
        first.copy(),
        zero.copy(),
        zero.copy(),
    )
    stack, states = np.zeros((8, n, series)), np.zeros((2, n, series), dtype=np.int64)
    shifts: list[Shift] = []
    for step in range(n):
        there = step < batch.lengths
        stack[5:, step] = normal.mean, normal.sd(variance[step]), normal.own
        scores = _score(charts, step, there)
        _open(charts, step, there)
        shifts.extend(_confirmed(charts, step, there))
        learning.learn(about.values[step], np.where(there, variance[step], 1.0), there, settings)
        normal.follow(learning, list(charts.open))
        stack[:5, step] = scores, charts.up, charts.down, charts.steep_up, charts.steep_down
        states[1, step] = _end(charts, step, there)
        states[0, step, list(charts.open)] = [episode.sign for episode in charts.open.values()]
    scores, up, down, steep_up, steep_down, usual, usual_sd, own = stack
    return ChartRun(scores, up, down, steep_up, steep_down, usual + course, usual_sd, own, states[0], states[1], tuple(shifts))


def next_sums(up: Floats, down: Floats, scores: Floats, slack: Floats | float) -> tuple[Floats, Floats]:
    """Upper and lower cumulative sums after one more score of each series, in the unit of the scores; both at least 0.

    Notes
    -----
    ``C+ = max(0, C+ + Q - k)``, ``C- = max(0, C- - Q - k)``.

    Source: [NistCusum]
    Checked: tests/published/test_nist_charts.py
    """
    return np.maximum(0.0, up + scores - slack), np.maximum(0.0, down - scores - slack)


def _score(charts: _Charts, step: int, there: NDArray[np.bool_]) -> Floats:
    settings, normal = charts.settings, charts.normal
    variance = np.where(there, charts.variance[step], 1.0)
    ready = there & (normal.own >= settings.learning_sessions)
    values = charts.batch.values[step]
    summed = np.where(ready, charts.learning.scores(values, variance, settings), 0.0)
    scores, held = summed.copy(), list(charts.open)
    if held:  # the normal of all others is what they have learned
        scores[held] = np.where(ready[held], normal.of(held).scores(values[held], variance[held], settings), 0.0)
    slack = np.where(ready, settings.slack, 0.0)
    charts.up, charts.down = (np.minimum(total, settings.most) for total in next_sums(charts.up, charts.down, summed, slack))
    steep = next_sums(charts.steep_up, charts.steep_down, summed, _STEEPER * slack)
    charts.steep_up, charts.steep_down = (np.minimum(total, settings.most / _STEEPER) for total in steep)
    charts.recent += np.where(ready, _RECENT * (scores - charts.recent), 0.0)
    charts.up_since = np.where(charts.up > 0, charts.up_since, step + 1)
    charts.down_since = np.where(charts.down > 0, charts.down_since, step + 1)
    return scores


def _open(charts: _Charts, step: int, there: NDArray[np.bool_]) -> None:
    """Freeze the normal of series whose sum has become large, as it was before the sum began to grow."""
    large = there & (np.maximum(charts.up, charts.down) >= min(charts.settings.freeze_at, charts.settings.confirm_at))
    for series in np.flatnonzero(large):
        if series in charts.open:
            continue
        upward = charts.up[series] > charts.down[series]
        began = int((charts.up_since if upward else charts.down_since)[series])
        charts.open[int(series)] = _Episode(1 if upward else -1, step, began)
        if began - charts.started[series] >= charts.settings.learning_sessions:
            _learn_anew(charts, int(series), int(charts.started[series]), began)


def _end(charts: _Charts, step: int, there: NDArray[np.bool_]) -> Integers:
    ended = np.zeros(there.size, dtype=np.int64)
    for series, episode in list(charts.open.items()):
        ending = _ending(charts, step, series, episode) if there[series] else ""
        if not ending:
            continue
        ended[series] = ENDINGS.index(ending)
        if ending == "lasting":
            charts.started[series] = episode.began_step
            _learn_anew(charts, series, episode.began_step, step + 1)
        charts.learning.adopt(series, charts.normal)
        charts.up[series] = charts.down[series] = charts.recent[series] = 0.0
        charts.steep_up[series] = charts.steep_down[series] = 0.0
        charts.confirmed.discard(series)
        del charts.open[series]
    return ended


def _ending(charts: _Charts, step: int, series: int, episode: _Episode) -> str:
    """Whether the level is back, or has stayed for three weeks, six weeks or more after the episode opened."""
    if charts.recent[series] * episode.sign <= 0.0:
        return "back"
    days, values = charts.batch.days[: step + 1, series], charts.batch.values[: step + 1, series]
    age, half = days[step] - days[episode.opened_step], charts.settings.settle_days / 2.0
    if age < charts.settings.settle_days:
        return ""
    late, early = days > days[step] - half, (days <= days[step] - half) & (days > days[step] - 2.0 * half)
    sd = float(charts.normal.sd(charts.variance[step])[series])
    beyond = episode.sign * (np.median(values[late]) - charts.normal.mean[series])
    if beyond < _CLEARLY * sd / np.sqrt(late.sum()):
        return "back"
    error = sd * np.sqrt(1.0 / late.sum() + 1.0 / max(early.sum(), 1))
    moves = early.any() and abs(np.median(values[late]) - np.median(values[early])) > 2.0 * error
    away = episode.sign * (values - charts.normal.mean[series])
    waits = moves or _just_back(away[late], sd) or step - episode.opened_step < charts.settings.settle_sessions
    return "" if waits and age < _MOST_DAYS else "lasting"


def _just_back(away: Floats, sd: float) -> bool:
    """Whether the newest of the last weeks lie at the normal and clearly not where most of these weeks lie.

    A level that came back shortly before six weeks were over would else be forgotten, and its return told as a new shift.
    """
    usual, n = np.median(away), np.array([k for k in _NEWEST if k < away.size])
    newest = np.array([np.median(away[-k:]) for k in n])
    apart = 2.0 * sd * np.sqrt(1.0 / n + 1.0 / away.size)
    return bool(np.any((newest < _CLEARLY * sd / np.sqrt(n)) & (usual - newest > apart)))


def _learn_anew(charts: _Charts, series: int, begin: int, end: int) -> None:
    past = slice(begin, end)
    charts.normal.restart(series, charts.batch.values[past, series], charts.variance[past, series], charts.settings)


def _confirmed(charts: _Charts, step: int, there: NDArray[np.bool_]) -> list[Shift]:
    found = []
    above = there & (np.maximum(charts.up, charts.down) >= charts.settings.confirm_at)
    for series in np.flatnonzero(above):
        if series not in charts.confirmed:
            charts.confirmed.add(int(series))
            shift = _dated(charts, step, int(series))
            found.append(shift)
            charts.open[int(series)].began_step = shift.began_step
    return found


def _dated(charts: _Charts, step: int, series: int) -> Shift:
    begin = max(int(charts.started[series]), step + 1 - _DATED_SESSIONS)
    upward = bool(charts.up[series] > charts.down[series])
    since = int((charts.up_since if upward else charts.down_since)[series])
    window = charts.batch.values[begin : step + 1, series]
    sd = float(charts.normal.sd(charts.variance[step])[series])
    began = begin + shift_began_at(window, sd, upward=upward, since=max(since - begin, 0))
    return Shift(series, step, began, upward)
