"""A player's own normal for one kind of answer, and how far the last answers lie above it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from scipy import special

from pipelines.measures.load.grid import Counts, Floats, Readings, Truths, readings

BASELINE_DAYS = (21, 104)
BASELINE_AT_LEAST = 14
SPREAD_FLOOR = 0.6
SQUAD_WEIGHT = 20
WITHIN_DAYS: MappingProxyType[int, int] = MappingProxyType({3: 14, 5: 18, 8: 24})
RESEMBLES, BASELINE_INFLATION = 0.45, 2.3
_LIKENESS = RESEMBLES ** np.arange(128.0)
NEAR_FLOOR = 2.0
FREEZE_SCORE, FREEZE_EXCESS = 3.0, 1.0
THAW_SCORE, THAW_EXCESS, MOST_FROZEN_DAYS = 2.0, 0.5, 120
"""Own choices. Normal: answers 21 to 104 days old, at least 14 of them: what began less than three weeks ago is not in it. The
last 3, 5 or 8 answers, within so many days: on sore days some answer seldom. The floor keeps an ordinal scale with few distinct
answers from exaggerating. Days resemble the day before (autocorrelation .45, the less the farther apart); the inflation allows
for it in the normal. Less than two of the squad's spreads above 0 a narrow spread may come from the end of the scale.
A normal that the last answers have left (by a score of 3 and a point) learns nothing until they are back, at most for 120 days:
then what they tell lasts, and is listed as lasting."""

REACH_DAYS = BASELINE_DAYS[1]
"""What is told of a day rests on no answers older than this, but for the normal that is held."""

_NEVER = -1_000_000
_GRAINS = 4096.0
"""Answers are summed in so small parts of a point that every sum is exact: it does not matter from which day on it runs."""


@dataclass(frozen=True)
class AnswerBaseline:
    """What is normal for each player on each day, from earlier answers only.

    Attributes
    ----------
    mean : Readings
        Mean answer.
    spread : Floats, shape (players, days)
        Standard deviation, never below the squad-informed value or the floor; meaningless where the mean is unknown.
    n : Counts, shape (players, days)
        Answers behind them.
    """

    mean: Readings
    spread: Floats
    n: Counts

    def since(self, column: int) -> AnswerBaseline:
        """That of the days from a column on."""
        return AnswerBaseline(self.mean.since(column), self.spread[:, column:], self.n[:, column:])


def _in_grains(value: Floats) -> Floats:
    return np.asarray(np.rint(value * _GRAINS) / _GRAINS)


def _between(cells: Floats, newest: int, oldest: int) -> Floats:
    """Sum over the days from ``oldest`` to ``newest`` days ago."""
    total = np.concatenate([np.zeros((cells.shape[0], 1)), np.cumsum(cells, axis=1)], axis=1)
    day = np.arange(cells.shape[1])
    between: Floats = total[:, np.clip(day - newest + 1, 0, None)] - total[:, np.clip(day - oldest, 0, None)]
    return between


def own_normal(answers: Readings) -> AnswerBaseline:
    """The player's own normal: mean and spread of the answers 21 to 104 days old.

    Parameters
    ----------
    answers : Readings, shape (players, days)
        0 to 10, worse is higher. A day without an answer is unknown and is left out; nothing is carried forward.

    Returns
    -------
    AnswerBaseline
        Unknown with fewer than 14 answers: reason ``learning_normal``.

    Notes
    -----
    The last three weeks are left out so that a rise does not become its own normal before it is seen. The spread is the larger of
    the player's own and of a mean of own and squad variance, ``(20 s_squad^2 + (n-1) s^2) / (20 + n - 1)``, and at least 0.6: a
    few equal answers must not make the next point a surprise; nor below the squad's where the mean lies within two of its spreads
    of 0, the end of the scale. The squad's variance is the median over players known that night.

    Source: derived here, after [Ward2018] for recent own baselines
    Checked: tests/property/test_body_baseline.py
    """
    newest, oldest = BASELINE_DAYS
    weight = answers.known.astype(np.float64)
    n = np.rint(_between(weight, newest, oldest))
    told = _in_grains(answers.value)
    mean = _between(told, newest, oldest) / np.maximum(n, 1)
    squares = _between(told**2, newest, oldest)
    variance = np.maximum(squares - n * mean**2, 0.0) / np.maximum(n - 1, 1)
    enough = n >= BASELINE_AT_LEAST
    squad = _squad_variance(np.maximum(variance, SPREAD_FLOOR**2), enough)
    informed = (SQUAD_WEIGHT * squad + (n - 1) * variance) / np.maximum(SQUAD_WEIGHT + n - 1, 1)
    at_least = np.where(mean < NEAR_FLOOR * np.sqrt(squad), np.maximum(squad, SPREAD_FLOOR**2), SPREAD_FLOOR**2)
    spread = np.sqrt(np.maximum(np.maximum(informed, variance), at_least))
    return AnswerBaseline(readings(mean, enough), spread, n.astype(np.int64))


@dataclass(frozen=True)
class Hold:
    """The normals of some players that are held.

    Attributes
    ----------
    since : Counts, shape (players,)
        The day from which it is held, counted from the first of the grid (which it may lie before); far below 0: it is not.
    mean, spread, n
        What is normal, as it then was.
    """

    since: Counts
    mean: Floats
    spread: Floats
    n: Counts

    @staticmethod
    def nobody(n_players: int) -> Hold:
        """No normal is held."""
        zero = np.zeros(n_players, dtype=np.int64)
        return Hold(zero + _NEVER, np.zeros(n_players), np.zeros(n_players), zero)

    @property
    def is_held(self) -> Truths:
        """Of each player."""
        return np.asarray(self.since > _NEVER)

    def of(self, rows: Counts) -> Hold:
        """Those of some players."""
        return Hold(self.since[rows], self.mean[rows], self.spread[rows], self.n[rows])

    def where(self, condition: Truths, other: Hold) -> Hold:
        """Others where a condition holds."""
        names = ("since", "mean", "spread", "n")
        return Hold(*(np.where(condition, getattr(other, name), getattr(self, name)) for name in names))


@dataclass(frozen=True)
class HeldNormal:
    """The own normal, held as it was while the last answers lie above it.

    Attributes
    ----------
    normal : AnswerBaseline
    lasted : Truths
        Days with an answer on which it was let go because the answers have stayed above it for 120 days.
    since : Counts, shape (players, days)
        See :class:`Hold`, at the end of each day.
    """

    normal: AnswerBaseline
    lasted: Truths
    since: Counts

    def since_day(self, column: int) -> HeldNormal:
        """That of the days from a column on, counted from it."""
        since = np.where(self.since > _NEVER, self.since - column, _NEVER)
        return HeldNormal(self.normal.since(column), self.lasted[:, column:], since[:, column:])

    def before(self, day: int) -> Hold:
        """What is held when a day of the grid but the first begins; days are counted from it."""
        last, own = day - 1, self.normal
        since = self.since[:, last]
        counted = np.where(since > _NEVER, since - day, _NEVER)
        return Hold(counted, own.mean.value[:, last], own.spread[:, last], own.n[:, last])


def held_normal(answers: Readings, normal: AnswerBaseline, free: Above, before: Hold | None = None, begin: int = 0) -> HeldNormal:
    """The normal from before the last answers rose, for as long as they stay above it.

    Parameters
    ----------
    answers : Readings, shape (players, days)
        Worse is higher.
    normal : AnswerBaseline
        That of :func:`own_normal`, which learns from every answer older than three weeks.
    free : Above
        The last answers against that one, see :func:`above_normal`.
    before : Hold, optional
        What is held when the day ``begin`` begins; nothing is told of days before it.
    begin : int

    Notes
    -----
    Held from the day on which the last answers score 3 and lie a point above it, let go on the first day with an answer on which
    they score less than 2 or lie less than half a point above it, or after 120 days. Nothing looks ahead. So a wrist that has
    been stiff for a month is not its own normal.

    Source: own rule
    Checked: tests/property/test_body_baseline.py
    """
    n_players, n_days = answers.known.shape
    held = before or Hold.nobody(n_players)
    rises = free.score.known & (free.score.value >= FREEZE_SCORE) & (free.excess.value >= FREEZE_EXCESS)
    rises[:, :begin] = False
    rows = np.flatnonzero(rises.any(axis=1) | held.is_held)
    held = held.of(rows)
    mean, spread, n = normal.mean.value.copy(), normal.spread.copy(), normal.n.copy()
    lasted, all_since = np.zeros(answers.known.shape, dtype=np.bool_), np.full(answers.known.shape, _NEVER)
    risen = set(np.flatnonzero(rises.any(axis=0)))
    for day in range(begin, n_days):
        if day not in risen and not held.is_held.any():
            continue
        answered = answers.known[rows, day] & held.is_held
        error = _error(held.spread, free.alike[rows, day], held.n)
        excess = free.recent.value[rows, day] - held.mean
        over = answered & free.recent.known[rows, day] & ((excess < THAW_EXCESS) | (excess < THAW_SCORE * error))
        old = answered & (day - held.since >= MOST_FROZEN_DAYS) & ~over
        lasted[rows[old], day] = True
        held = held.where(over | old, Hold.nobody(rows.size))
        learned = Hold(np.full(rows.size, day), mean[rows, day], spread[rows, day], n[rows, day])
        held = held.where(~held.is_held & rises[rows, day] & ~old, learned)
        stays, all_since[rows, day] = held.is_held, held.since
        for cells, own in ((mean, held.mean), (spread, held.spread), (n, held.n)):
            cells[rows[stays], day] = own[stays]
    return HeldNormal(AnswerBaseline(Readings(mean, normal.mean.known), spread, n), lasted, all_since)


def _error(spread: Floats, alike: Floats, n_normal: Counts) -> Floats:
    """Standard error of the mean of the last answers less the normal; ``alike``: variance of that mean, of one answer 1."""
    return np.asarray(spread * np.sqrt(alike + BASELINE_INFLATION / np.maximum(n_normal, 1)))


def _squad_variance(variance: Floats, enough: np.ndarray) -> Floats:
    """Median variance over the players who are known on each day; the floor where nobody is."""
    ordered = np.sort(np.where(enough, variance, np.inf), axis=0)
    n = enough.sum(axis=0)
    middle = ordered[np.maximum(n - 1, 0) // 2, np.arange(variance.shape[1])]
    return np.where(n > 0, middle, SPREAD_FLOOR**2)


@dataclass(frozen=True)
class _Answered:
    """The answers alone, player by player in order of days, and where they stand on the grid."""

    value: Floats
    row: Counts
    day: Counts

    def mean_of_last(self, n_answers: int, within_days: int) -> tuple[Floats, Floats, Truths]:
        """Mean of each answer and those before it, its variance (of one answer: 1), whether they are one player's and recent."""
        total = np.concatenate([[0.0], np.cumsum(self.value)])
        mean = np.zeros(self.value.size)
        mean[n_answers - 1 :] = (total[n_answers:] - total[:-n_answers]) / n_answers
        variance, fits = _of_days(self.row.tobytes(), self.day.tobytes(), n_answers, within_days)
        return mean, variance, fits


@lru_cache(maxsize=2 * len(WITHIN_DAYS))
def _of_days(row: bytes, day: bytes, n_answers: int, within_days: int) -> tuple[Floats, Truths]:
    """Variance of the mean of the last answers, and whether they are one player's and recent: mostly the same for all items."""
    rows, days = np.frombuffer(row, dtype=np.int64), np.frombuffer(day, dtype=np.int64)
    fits, variance = np.zeros(days.size, dtype=np.bool_), np.ones(days.size)
    last, oldest = slice(n_answers - 1, None), slice(None, days.size - n_answers + 1)
    fits[last] = (rows[last] == rows[oldest]) & (days[last] - days[oldest] <= within_days)
    alike = np.full(days[last].size, float(n_answers))
    for apart in range(1, n_answers):
        pairs = _LIKENESS[np.minimum(np.abs(days[apart:] - days[:-apart]), _LIKENESS.size - 1)]
        for place in range(n_answers - apart):
            alike += 2.0 * pairs[place : place + alike.size]
    variance[last] = alike / n_answers**2
    for one in (variance, fits):
        one.flags.writeable = False
    return variance, fits


def _answered(answers: Readings) -> _Answered:
    row, day = np.nonzero(answers.known)
    return _Answered(_in_grains(answers.value[answers.known]), row, day)


def _on_grid(answers: Readings, value: Floats, known: Truths) -> Readings:
    cells, is_known = np.zeros(answers.value.shape), np.zeros(answers.known.shape, dtype=np.bool_)
    cells[answers.known], is_known[answers.known] = value, known
    return Readings(cells, is_known)


@dataclass(frozen=True)
class Above:
    """How far the last answers lie above the player's own normal.

    Attributes
    ----------
    recent : Readings
        Mean of the last answers, of the run (3, 5 or 8) that speaks most clearly.
    excess : Readings
        ``recent`` minus the normal [points].
    score : Readings
        Excess over its standard error.
    p_value : Readings
        One-sided, all runs allowed for.
    n_answers : Counts
        Answers in that run.
    alike : Floats, shape (players, days)
        Variance of their mean by chance, in variances of one answer: 1 where there is none.
    """

    recent: Readings
    excess: Readings
    score: Readings
    p_value: Readings
    n_answers: Counts
    alike: Floats

    def since(self, column: int) -> Above:
        """What is told of the days from a column on."""
        told = {name: getattr(self, name).since(column) for name in ("recent", "excess", "score", "p_value")}
        return Above(**told, n_answers=self.n_answers[:, column:], alike=self.alike[:, column:])

    def with_rows(self, rows: Counts, other: Above) -> Above:
        """Another in place of what is told of some players."""
        told = {
            name: getattr(self, name).with_rows(rows, getattr(other, name)) for name in ("recent", "excess", "score", "p_value")
        }
        n_answers, alike = self.n_answers.copy(), self.alike.copy()
        n_answers[rows], alike[rows] = other.n_answers, other.alike
        return Above(**told, n_answers=n_answers, alike=alike)


def above_normal(answers: Readings, normal: AnswerBaseline) -> Above:
    """The last 3, 5 and 8 answers against the player's own normal: several answers, not one bad day.

    Parameters
    ----------
    answers : Readings, shape (players, days)
        Worse is higher.
    normal : AnswerBaseline

    Returns
    -------
    Above
        Unknown on days without an answer, with too few recent ones, or while the normal is still being learned.

    Notes
    -----
    ``score = (mean of last r - m) / (s sqrt(v + 2.3/n))``, ``v = sum over i, j of .45**abs(t_i - t_j) / r**2`` with t the days
    of the answers; p from Student's t with n + 19 degrees of freedom, times three for three runs.

    Source: derived here; the predictive t is [Crawford1998]
    Checked: tests/property/test_body_baseline.py, tests/benchmarks/body/test_body_detection.py
    """
    told, at = _answered(answers), answers.known
    usual, spread, n = normal.mean.value[at], normal.spread[at], np.maximum(normal.n[at], 1)
    score, recent = np.full(told.value.size, -np.inf), np.zeros(told.value.size)
    taken, of_run = np.zeros(told.value.size, dtype=np.int64), np.ones(told.value.size)
    for r, within in WITHIN_DAYS.items():
        if told.value.size < r:
            continue
        mean, variance, fits = told.mean_of_last(r, within_days=within)
        error = _error(spread, variance, n)
        distance = np.where(fits & normal.mean.known[at], (mean - usual) / error, -np.inf)
        better = distance > score
        score, recent = np.where(better, distance, score), np.where(better, mean, recent)
        taken, of_run = np.where(better, r, taken), np.where(better, variance, of_run)
    known = np.isfinite(score)
    p_value, clear = np.ones(score.size), known & (score >= 1.0)
    p_value[clear] = np.minimum(len(WITHIN_DAYS) * special.stdtr(n[clear] + SQUAD_WEIGHT - 1, -score[clear]), 1.0)
    n_answers, alike = np.zeros(answers.value.shape, dtype=np.int64), np.ones(answers.value.shape)
    n_answers[at], alike[at] = taken, of_run
    return Above(
        recent=_on_grid(answers, np.where(known, recent, 0.0), known),
        excess=_on_grid(answers, np.where(known, recent - usual, 0.0), known),
        score=_on_grid(answers, np.where(known, score, 0.0), known),
        p_value=_on_grid(answers, np.where(known, p_value, 0.0), known),
        n_answers=n_answers,
        alike=alike,
    )
