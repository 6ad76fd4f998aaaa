"""How much more likely the counts of sessions are when a share has risen at one of them than when it has not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln

from pipelines.measures.onset_ratio import log_mean_ratio

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

QUIET, RISEN = (1.2, 38.8), (2.0, 14.0)
"""Beta distributions of a share before its own sessions tell: 3 % like 40 shots, and after a rise 12.5 % like 16. Own choice."""

OLDEST_DAYS, FEWEST_BEFORE = 180.0, 4
"""A rise is looked for at sessions of half a year, each with four before it."""

RARER = 2.0
"""The chance of a ratio on a night, over the inverse of that ratio: minus its natural logarithm.

Calibrated: among 52,000 sessions of players whose share never changed (one session a week, seeds 2101 to 2106) it was 2.4 to
2.9 at log ratios of 2 to 5.
"""


def log_ratio_of_rise(day: Floats, hits: Floats, shots: Floats, at: Integers) -> Floats:
    """Logarithm of the mean likelihood ratio of a share that rose at some session, beside one that stayed the same.

    Parameters
    ----------
    day : (n,) array
        Day of each session, ascending [d].
    hits, shots : (n,) arrays
        Shots that count, and all, of each session; where sessions differ more than chance, both over their design effect.
    at : (m,) array
        Sessions after which it is asked.

    Returns
    -------
    (m,) array
        Natural logarithm; ``-inf`` where no session has four before it, or the share since was higher at none. No missing values
        are taken.

    Notes
    -----
    With ``B(k, n; a, b) = beta(a + k, b + n - k) / beta(a, b)`` (beta-binomial, without the factor that cancels), k and n summed
    over sessions before (0) and since (1) session j: ``mean over j of B(k0, n0; quiet) B(k1, n1; risen) / B(k, n; quiet)``,
    0 for a j since which the share is no higher. Its expectation is at most 1 when nothing has changed, so large ones are rare.

    Source: [Skellam1948] (the distribution), [KassRaftery1995] (the ratio)
    Checked: tests/unit/test_share_rise.py against products of ``scipy.stats.betabinom``
    """
    total, of = (np.concatenate([[0.0], np.cumsum(one)]) for one in (hits, shots))
    onset = np.arange(day.size)
    looked = (onset >= FEWEST_BEFORE) & (onset <= at[:, None]) & (day[at, None] - day <= OLDEST_DAYS)
    before = total[:-1], of[:-1]
    since = np.where(looked, total[at + 1, None] - total[:-1], 0.0), np.where(looked, of[at + 1, None] - of[:-1], 0.0)
    higher = _mean(since, RISEN) > _mean(before, QUIET)
    log = _marginal(before, QUIET) + _marginal(since, RISEN) - _marginal((total[at + 1], of[at + 1]), QUIET)[:, None]
    return log_mean_ratio(np.where(higher, log, -np.inf), looked)


def chance_of_ratio(log_ratio: Floats) -> Floats:
    """One-sided chance of so large a ratio on a night when nothing has changed: ``exp(-L - 2)``, at most 1.

    Source: own simulation, see ``RARER``
    Checked: tests/unit/test_share_rise.py
    """
    return np.asarray(np.exp(np.minimum(-log_ratio - RARER, 0.0)))


def _mean(counts: tuple[Floats, Floats], prior: tuple[float, float]) -> Floats:
    return np.asarray((counts[0] + prior[0]) / (counts[1] + sum(prior)))


def _marginal(counts: tuple[Floats, Floats], prior: tuple[float, float]) -> Floats:
    hits, shots = counts
    return np.asarray(betaln(prior[0] + hits, prior[1] + shots - hits) - betaln(*prior))
