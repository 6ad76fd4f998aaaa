"""Whether a rise that was proven has stopped: a line with a bend, and how sure both of its parts are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

BENDS = (14.0, 21.0, 28.0, 42.0)
"""Days before the session at which a bend is looked for."""

STALL_AT, OVER_AT = 0.01, 0.2
"""Chances at which a stall is said, and at which it no longer is."""

RISE_DAYS = 84.0
FEWEST_BEFORE, FEWEST_SINCE = 12, 6
LEAST_SLOPE = 0.5
"""Slopes of a rise that stopped: at least so many smallest worthwhile changes in 28 days before, at most half of that since."""


def stall_scores(days: Floats, values: Floats, variances: Floats) -> Floats:
    """After each session of one series: how clearly a rise came to a stop.

    Parameters
    ----------
    days : (n,) array
        Ascending [d].
    values, variances : (n,) arrays
        Session values above the course that is expected, and their variances [scale units, squared].

    Returns
    -------
    (n,) array
        The smaller of the two standard scores, slope before the bend above 0 and slope since below it, at the bend that speaks
        most clearly; ``-inf`` where none can be told or the slopes are no rise that stopped.

    Notes
    -----
    ``x = a + b (t - k) + c max(t - k, 0)`` over the 84 days before the bend k and the days since, by weighted least squares; a
    stall is ``b > 0`` and ``c < 0`` with ``b + c`` below half of b.

    Source: own rule (an intersection-union test: both parts must be clear)
    Checked: tests/unit/test_stall.py
    """
    scores = np.full(days.size, -np.inf)
    for lag in BENDS:
        np.maximum(scores, _bend(days, values, variances, lag), out=scores)
    return scores


def stall_p_value(scores: Floats, correlation: Floats) -> Floats:
    """Chance of so clear a stall when the player did not rise, or still rises.

    Notes
    -----
    Normal, for four bends, with the variance raised by ``(1 + r) / (1 - r)`` for form that resembles the session before.
    """
    raised = np.sqrt((1.0 + correlation) / (1.0 - correlation))
    return np.asarray(np.minimum(len(BENDS) * ndtr(-scores / raised), 1.0))


def _bend(days: Floats, values: Floats, variances: Floats, lag: float) -> Floats:
    at = days - lag
    begin, bend = np.searchsorted(days, at - RISE_DAYS), np.searchsorted(days, at)
    end = np.arange(1, days.size + 1)
    enough = (bend - begin >= FEWEST_BEFORE) & (end - bend >= FEWEST_SINCE)
    sums = _sums(days - days[0], values, variances)
    k = at - days[0]
    before, since = sums[bend] - sums[begin], sums[end] - sums[bend]
    left, right = _about(before, k), _about(since, k)
    both = left + right
    information = np.empty((days.size, 3, 3))
    # 1, t - k, max(t - k, 0); columns of the sums: w, wt, wtt, wx, wtx
    information[:, 0, 0], information[:, 1, 1], information[:, 2, 2] = both[:, 0], both[:, 2], right[:, 2]
    information[:, 0, 1] = information[:, 1, 0] = both[:, 1]
    information[:, 0, 2] = information[:, 2, 0] = right[:, 1]
    information[:, 1, 2] = information[:, 2, 1] = right[:, 2]
    information[~enough] = np.eye(3)
    target = np.stack([both[:, 3], both[:, 4], right[:, 4]], axis=1)
    covariance = np.linalg.inv(information)
    estimate = np.einsum("nij,nj->ni", covariance, target)
    slope, change = estimate[:, 1], estimate[:, 2]
    score = np.minimum(slope / np.sqrt(covariance[:, 1, 1]), -change / np.sqrt(covariance[:, 2, 2]))
    stopped = (slope * 28.0 >= LEAST_SLOPE) & (slope + change <= slope / 2.0)
    return np.where(enough & stopped, score, -np.inf)


def _sums(t: Floats, x: Floats, variances: Floats) -> Floats:
    """Running sums of w, wt, wtt, wx, wtx, from nothing on: (n + 1, 5)."""
    weight = 1.0 / variances
    parts = np.stack([weight, weight * t, weight * t * t, weight * x, weight * t * x], axis=1)
    return np.concatenate([np.zeros((1, 5)), np.cumsum(parts, axis=0)])


def _about(sums: Floats, k: Floats) -> Floats:
    """The same sums of t - k in place of t."""
    w, wt, wtt, wx, wtx = sums.T
    return np.stack([w, wt - k * w, wtt - 2.0 * k * wt + k * k * w, wx, wtx - k * wx], axis=1)
