"""Whether a rise that was proven has stopped: a line with a bend, and how sure both of its parts are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

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

RISE_DAYS = (120.0, 365.0)
"""Days before the bend over which the rise is looked for: the longer only where the shorter does not prove one, since a winter
that was level makes a line through the year of a rise that began in spring."""

_SURELY = 1.645  # standard errors; 95 % one-sided
FEWEST_BEFORE, FEWEST_SINCE = 12, 6
LEAST_SLOPE = 0.3
"""Slopes of a rise that stopped: at least so many smallest worthwhile changes in 28 days before, at most half of that since."""

RISE_SURELY = 6.0
"""Standard errors by which the slope of the rise must lie above 0. It is looked for after every session, over several bends, and
in players who only had a good month: the test that counts is then whether it stopped."""


def stall_scores(days: Floats, values: Floats, variances: Floats, growth: Floats, first: int = 0) -> Floats:
    """After each session of one series, from one on: how clearly a rise came to a stop.

    Parameters
    ----------
    days : (n,) array
        Ascending [d].
    values, variances : (n,) arrays
        Session values without the season, and their variances [scale units, squared].
    growth : (n,) array
        Slope that is expected of one who still grows; 0 of others [scale units a day].
    first : int
        The session from which on it is asked.

    Returns
    -------
    (n - first,) array
        Standard errors by which the slope since the bend lies below the one before it, at the bend that speaks most clearly;
        ``-inf`` where none can be told or the slopes are no rise that stopped.

    Notes
    -----
    ``x = a + b (t - k) + c max(t - k, 0)`` over the 120 days (or the year) before the bend k and the days since, by weighted
    least squares; a stall is b above 0 by 6 standard errors and ``c < 0`` with ``b + c`` at most half of b, and surely below the
    growth where one is expected. All is asked of the bend that fits best: one that is looked for too late turns back what it
    missed.

    Source: own rule (an intersection-union test: both parts must be clear)
    Checked: tests/unit/test_stall.py
    """
    sums = _sums(days - days[0], values, variances)
    short, longer = (_clearest(days, sums, span, first) for span in RISE_DAYS)
    score, rose, since, error = np.where(short[1] > 0, short, longer)
    stopped = (growth[first:] <= 0.0) | (since + _SURELY * error <= growth[first:])
    return np.where((rose > 0) & stopped, score, -np.inf)


def _clearest(days: Floats, sums: Floats, rise_days: float, first: int) -> Floats:
    """Of the bend that fits best: clearness, whether a rise came to a stop there (1, 0), slope since, its error: (4, n)."""
    score, slope, error, since, since_error = _bends(days, sums, rise_days, first)
    best = np.argmax(score, axis=0)[None]
    score, slope, error, since, since_error = (
        np.take_along_axis(one, best, axis=0)[0] for one in (score, slope, error, since, since_error)
    )
    rose = np.isfinite(score) & (slope * 28.0 >= LEAST_SLOPE) & (slope >= RISE_SURELY * error) & (since <= slope / 2.0)
    return np.stack([score, rose, since, since_error])


def stall_p_value(scores: Floats, correlation: Floats) -> Floats:
    """Chance of so clear a stall when the player still rises.

    Notes
    -----
    Normal, for six bends that count as 3.5, with
    the variance raised by ``(1 + r) / (1 - r)`` for form that resembles the session before.
    """
    raised = np.sqrt((1.0 + correlation) / (1.0 - correlation))
    return np.asarray(np.minimum(BENDS_COUNT_AS * ndtr(-scores / raised), 1.0))


def _bends(days: Floats, sums: Floats, rise_days: float, first: int) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Of every bend: its clearness, slope before it and slope since, each with its standard error; each (bends, n)."""
    at = days[first:] - np.array(BENDS)[:, None]
    begin, bend = np.searchsorted(days, at - rise_days), np.searchsorted(days, at)
    end = np.arange(first + 1, days.size + 1)
    enough = (bend - begin >= FEWEST_BEFORE) & (end - bend >= FEWEST_SINCE)
    k = at - days[0]
    before, since = sums[bend] - sums[begin], sums[end] - sums[bend]
    left, right = _about(before, k), _about(since, k)
    both = left + right
    information = np.empty((*at.shape, 3, 3))
    # 1, t - k, max(t - k, 0); columns of the sums: w, wt, wtt, wx, wtx
    information[..., 0, 0], information[..., 1, 1], information[..., 2, 2] = both[..., 0], both[..., 2], right[..., 2]
    information[..., 0, 1] = information[..., 1, 0] = both[..., 1]
    information[..., 0, 2] = information[..., 2, 0] = right[..., 1]
    information[..., 1, 2] = information[..., 2, 1] = right[..., 2]
    information[~enough] = np.eye(3)
    target = np.stack([both[..., 3], both[..., 4], right[..., 4]], axis=-1)
    covariance = np.linalg.inv(information)
    estimate = np.einsum("...ij,...j->...i", covariance, target)
    slope, change = estimate[..., 1], estimate[..., 2]
    score = np.where(enough, -change / np.sqrt(covariance[..., 2, 2]), -np.inf)
    of_both = covariance[..., 1, 1] + covariance[..., 2, 2] + 2.0 * covariance[..., 1, 2]
    return score, slope, np.sqrt(covariance[..., 1, 1]), slope + change, np.sqrt(of_both)


def _sums(t: Floats, x: Floats, variances: Floats) -> Floats:
    """Running sums of w, wt, wtt, wx, wtx, from nothing on: (n + 1, 5)."""
    weight = 1.0 / variances
    parts = np.stack([weight, weight * t, weight * t * t, weight * x, weight * t * x], axis=1)
    return np.concatenate([np.zeros((1, 5)), np.cumsum(parts, axis=0)])


def _about(sums: Floats, k: Floats) -> Floats:
    """The same sums of t - k in place of t."""
    w, wt, wtt, wx, wtx = np.moveaxis(sums, -1, 0)
    return np.stack([w, wt - k * w, wtt - 2.0 * k * wt + k * k * w, wx, wtx - k * wx], axis=-1)
