"""Whether a rise that was proven has stopped: a line with a bend, and how sure both of its parts are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

if TYPE_CHECKING:
    from collections.abc import Sequence

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

BENDS = (21.0, 28.0, 42.0, 63.0, 84.0, 126.0)
"""Days before the session at which a bend is looked for."""

BENDS_COUNT_AS = 3.5
"""Tests that the bends of one series are worth: they share most sessions (2.5 at .01, 3.5 at .001).

Calibrated: own simulation.
"""

STALL_AT, OVER_AT = 0.01, 0.2
"""Chances at which a stall is said, and at which it no longer is."""

RISE_DAYS = 365.0
"""Days before the bend over which the rise is looked for."""

STARTS = (63.0, 100.0, 160.0)
"""Days before the bend at which the rise may have begun, the level having stayed before: a line through a year that began with a
level winter is not as steep as the rise was, and bends less where it stops."""

START_LIKELIER, START_COSTS = 16.0, 0.25
"""By how much a course that begins to rise must be likelier than a line (twice the natural logarithm of the ratio): of a slow
rise some months look steeper than it is by chance, and then look as if it had stopped. And the standard errors that looking for
the start is worth. Own choice (seeds 101, 102, 2130 to 2147, 2161 to 2176, 2310 to 2347)."""

_SURELY = 1.645  # standard errors; 95 % one-sided
FEWEST_BEFORE, FEWEST_RISING, FEWEST_SINCE = 12, 8, 4
"""Sessions before a bend, of a rise whose start is looked for, and since the bend: of who comes once a week six
would often be all that came in eight weeks. Own choice (seeds 2310 to 2347)."""

LEAST_SLOPE = 0.3
"""Slopes of a rise that stopped: at least so many smallest worthwhile changes in 28 days before, at most half of that since."""

RISE_SURELY = 6.0
"""Standard errors by which the slope of the rise must lie above 0. It is looked for after every session, over several bends, and
in players who only had a good month: the test that counts is then whether it stopped."""


@dataclass(frozen=True)
class Stretch:
    """Sessions of one series among which a stall is looked for.

    Attributes
    ----------
    days : (n,) array
        Ascending [d, whole].
    values, variances : (n,) arrays
        Session values without the season, and their variances [scale units, squared].
    growth : (n,) array
        Slope that is expected of one who still grows; 0 of others [scale units a day].
    first : int
        The session from which on it is asked.
    """

    days: Floats
    values: Floats
    variances: Floats
    growth: Floats
    first: int = 0


def stall_scores(stretches: Sequence[Stretch]) -> list[Floats]:
    """After each session of each stretch, from one on: how clearly a rise came to a stop.

    Parameters
    ----------
    stretches : sequence of Stretch
        What is said of one does not depend on the others: side by side they are only faster.

    Returns
    -------
    list of (2, n - first) arrays
        Standard errors by which the slope since the bend lies below the one before it, at the bend that speaks most clearly, and
        the slope before it [scale units in 28 days]; ``-inf`` and NaN where none can be told or they are no rise that stopped.

    Notes
    -----
    ``x = a + b max(t - k, -s) + c max(t - k, 0)`` over the year before the bend k and the days since, by weighted least
    squares: a line, or where that is surely likelier a rise that began s days before the bend. A stall is b above 0 by 6 SE
    and ``c < 0`` with ``b + c`` at most half of b, and surely below the growth where one is expected. All is asked of the
    bend that fits best: one that is looked for too late turns back what it missed.

    Source: own rule (an intersection-union test: both parts must be clear)
    Checked: tests/unit/test_stall.py
    """
    found: list[Floats] = []
    for begin in range(0, len(stretches), _STRETCHES_AT_ONCE):
        now = stretches[begin : begin + _STRETCHES_AT_ONCE]
        some = _SideBySide.made(now)
        score, rose, slope, since, error = _clearest(some)
        stopped = rose & ((some.growth <= 0.0) | (since + _SURELY * error <= some.growth))
        told = np.where(stopped, np.stack([score, slope * 28.0]), [[-np.inf], [np.nan]])
        found += np.split(told, np.searchsorted(some.of, np.arange(1, len(now))), axis=1)
    return found


_STRETCHES_AT_ONCE = 64  # so many stay in the processor's cache
_APART = 1.0e7
"""Days by which stretches are set apart where days of all of them are looked up at once."""


@dataclass(frozen=True)
class _SideBySide:
    """Sessions of several stretches, and the ones that are asked for.

    Attributes
    ----------
    keys : (n,) array
        Day of each session since the first of its stretch, those of each stretch set apart from the one before.
    starts : (P,) array
        Where each stretch begins.
    sums : (P, N + 1, 5) array
        Running sums of w, wt, wtt, wx, wtx of each stretch, from nothing on.
    of, step, day, growth : (R,) arrays
        Stretch, session in it, day since its first, and growth of each session that is asked for.
    """

    keys: Floats
    starts: Integers
    sums: Floats
    of: Integers
    step: Integers
    day: Floats
    growth: Floats

    @staticmethod
    def made(stretches: Sequence[Stretch]) -> _SideBySide:
        lengths = np.array([one.days.size for one in stretches])
        starts = np.cumsum(lengths) - lengths
        of = np.repeat(np.arange(lengths.size), lengths)
        step = np.arange(of.size) - starts[of]
        x, variances, growth = (
            np.concatenate([getattr(one, name) for one in stretches]) for name in ("values", "variances", "growth")
        )
        t, weight = np.concatenate([one.days - one.days[0] for one in stretches]), 1.0 / variances
        sums = np.zeros((lengths.size, int(lengths.max()) + 1, 5))
        sums[of, step + 1] = np.stack([weight, weight * t, weight * t * t, weight * x, weight * t * x], axis=1)
        np.cumsum(sums, axis=1, out=sums)
        asked = step >= np.array([one.first for one in stretches])[of]
        return _SideBySide(of * _APART + t, starts, sums, of[asked], step[asked], t[asked], growth[asked])

    def sessions_before(self, day: Floats) -> Integers:
        """How many sessions of its stretch lie before a day, for each session that is asked for."""
        places = np.searchsorted(self.keys, self.of * _APART + np.maximum(day, -1.0))
        return np.asarray(places - self.starts[self.of])


def stall_p_value(scores: Floats, correlation: Floats) -> Floats:
    """Chance of so clear a stall when the player still rises.

    Notes
    -----
    Normal, for six bends that count as 3.5, with
    the variance raised by ``(1 + r) / (1 - r)`` for form that resembles the session before.
    """
    raised = np.sqrt((1.0 + correlation) / (1.0 - correlation))
    return np.asarray(np.minimum(BENDS_COUNT_AS * ndtr(-scores / raised), 1.0))


def _clearest(some: _SideBySide) -> tuple[Floats, NDArray[np.bool_], Floats, Floats, Floats]:
    """Of the bend that fits best: clearness, whether a rise came to a stop there, slope before, slope since and its error."""
    told = _bends(some)
    best = np.argmax(told[0], axis=0)
    score, slope, error, since, since_error = told[:, best, np.arange(best.size)]
    rose = np.isfinite(score) & (slope * 28.0 >= LEAST_SLOPE) & (slope >= RISE_SURELY * error) & (since <= slope / 2.0)
    return score, rose, slope, since, since_error


def _bends(some: _SideBySide) -> Floats:
    """Of every bend: its clearness, slope before it and slope since, each with its standard error: (5, bends, R)."""
    at = some.day - np.array(BENDS)[:, None]
    begin, bend, end = some.sessions_before(at - RISE_DAYS), some.sessions_before(at), some.step + 1
    enough = (bend - begin >= FEWEST_BEFORE) & (end - bend >= FEWEST_SINCE)
    row, day = np.nonzero(enough)[1], at[enough]
    of, first = some.of[row], begin[enough]
    before, middle = some.sums[of, first], some.sums[of, bend[enough]]
    right = _about(some.sums[of, end[row]] - middle, day)
    likelihood, told = _line_with_bend(_about(middle - before, day), right)
    for start in STARTS:
        at_start = some.sessions_before(at - start)[enough]
        able = np.flatnonzero((bend[enough] - at_start >= FEWEST_RISING) & (at_start > first))
        level = some.sums[of[able], at_start[able]]
        left = _level_before(_about(middle[able] - level, day[able]), level - before[able], start)
        likelier, rising = _line_with_bend(left, right[able])
        likelier -= START_LIKELIER
        rising[0] -= START_COSTS
        better = likelier > likelihood[able]
        taken = able[better]
        likelihood[taken], told[:, taken] = likelier[better], rising[:, better]
    found = np.zeros((5, *at.shape))
    found[0] = -np.inf
    found[:, enough] = told
    return found


def _level_before(rise: Floats, before: Floats, days: float) -> Floats:
    """Sums of a rise about its bend, with those of sessions before it, which stand for its first day: so many before the bend."""
    w, x = before[:, 0], before[:, 3]
    return rise + np.stack([w, -days * w, days**2 * w, x, -days * x], axis=-1)


def _line_with_bend(left: Floats, right: Floats) -> tuple[Floats, Floats]:
    """By how much a line with a bend lessens the squares, (m,), and what it tells, (5, m), from sums about the bend.

    Told are clearness, slope before with its error, slope since with its error. Columns of the sums on either side: w, wt, wtt,
    wx, wtx. The inverse of the information on 1, t - k and max(t - k, 0) by its cofactors, sums of what either side tells, for
    days before the bend count below 0: to invert three by three one after the other takes ten times as long.
    """
    (l0, l1, l2, lx, ltx), (r0, r1, r2, rx, rtx) = left.T, right.T
    of_left, of_right = l0 * l2 - l1 * l1, r0 * r2 - r1 * r1
    determinant = r2 * of_left + l2 * of_right
    of_slope, of_since = l0 * r2 + of_right, r0 * l2 + of_left
    of_change = of_slope + of_since - 2.0 * l1 * r1
    level_slope, level_change, slope_change = -r2 * l1, l1 * r2 - l2 * r1, l1 * r1 - l0 * r2 - of_right
    x, tx = lx + rx, ltx + rtx
    slope = (level_slope * x + of_slope * tx + slope_change * rtx) / determinant
    change = (level_change * x + slope_change * tx + of_change * rtx) / determinant
    error, change_error, since_error = (np.sqrt(one / determinant) for one in (of_slope, of_change, of_since))
    level = (x - (l1 + r1) * slope - r1 * change) / (l0 + r0)
    lessened = x * level + tx * slope + rtx * change
    return lessened, np.stack([-change / change_error, slope, error, slope + change, since_error])


def _about(sums: Floats, k: Floats) -> Floats:
    """The same sums of t - k in place of t."""
    w, wt, wtt, wx, wtx = np.moveaxis(sums, -1, 0)
    return np.stack([w, wt - k * w, wtt - 2.0 * k * wt + k * k * w, wx, wtx - k * wx], axis=-1)
