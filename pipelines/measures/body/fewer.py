"""Whether answers have become rarer while practice goes on: those who are sore are the ones who leave them out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betaln, gammaln

from pipelines.measures.load.grid import Floats, Readings, Truths, readings
from pipelines.measures.load.windows import days_known

RECENT_DAYS, USUAL_DAYS = 14, 70
"""Days that are looked at, and those before them that say what is usual."""

FEWEST_ASKED, FEWEST_USUAL = 7, 28
"""Of those days, how many must be days on which anybody in the squad answered: the others tell of files, not of a player."""

LEAST_SHARE = 0.3
"""Who usually answers on fewer days than this is not followed."""

MOST_WEIGHT = 40.0
"""Days that the usual share weighs at most: it wanders by itself, holidays and school apart."""

PRACTICE_DAYS, PRACTICE_SHARE = 2, 0.5
"""Practice goes on: days with practice among the recent ones, at least, and at least so much of the usual."""


@dataclass(frozen=True)
class FewerAnswers:
    """Answers of the last 14 days against what is usual, players by days.

    Attributes
    ----------
    n_answers, usual : Readings
        Days with an answer among the recent ones, and how many are usual of so many.
    p_value : Readings
        Chance of so few when nothing has changed; 1 where practice does not go on.
    n_usual : Floats
        Days behind the usual share.
    """

    n_answers: Readings
    usual: Readings
    p_value: Readings
    n_usual: Floats


def fewer_answers(answered: Truths, practised: Truths) -> FewerAnswers:
    """Whether a player who practises as usual answers on fewer days than usual.

    Parameters
    ----------
    answered, practised : Truths, shape (players, days)
        Days with an answer; days with practice.

    Returns
    -------
    FewerAnswers
        Unknown while what is usual is being learned, and for players who seldom answer.

    Notes
    -----
    A day counts when the player has answered before and anybody of the squad answered on it. ``P(X <= x)`` of a beta-binomial
    with the share of the 70 days before, weighing at most 40 days: the usual share is not known exactly, nor fixed.

    Source: own rule
    Checked: tests/unit/test_fewer_answers.py (against a library's distribution), tests/benchmarks/detection
    """
    asked = np.maximum.accumulate(answered, axis=1) & answered.any(axis=0)
    recent, n_recent = days_known(answered, RECENT_DAYS), days_known(asked, RECENT_DAYS)
    whole = RECENT_DAYS + USUAL_DAYS
    earlier, n_earlier = days_known(answered, whole) - recent, days_known(asked, whole) - n_recent
    share = (earlier + 0.5) / (n_earlier + 1.0)
    known = (n_recent >= FEWEST_ASKED) & (n_earlier >= FEWEST_USUAL) & (share >= LEAST_SHARE)
    practice = days_known(practised, RECENT_DAYS)
    usual_practice = (days_known(practised, whole) - practice) * RECENT_DAYS / USUAL_DAYS
    goes_on = (practice >= PRACTICE_DAYS) & (practice >= PRACTICE_SHARE * usual_practice)
    chance = _chance(recent, n_recent, earlier, n_earlier)
    return FewerAnswers(
        n_answers=readings(recent, known),
        usual=readings(share * n_recent, known),
        p_value=readings(np.where(goes_on, chance, 1.0), known),
        n_usual=n_earlier,
    )


def _chance(recent: Floats, n_recent: Floats, earlier: Floats, n_earlier: Floats) -> Floats:
    """Chance of so few answers after so many, players by days: counts that come again are worked out once."""
    places = (RECENT_DAYS + 1, RECENT_DAYS + 1, USUAL_DAYS + 1, USUAL_DAYS + 1)
    counts = [one.ravel().astype(np.int64) for one in (recent, n_recent, earlier, n_earlier)]
    found, at = np.unique(np.ravel_multi_index(tuple(counts), places), return_inverse=True)
    x, n, before, n_before = (one.astype(np.float64) for one in np.unravel_index(found, places))
    share, weight = (before + 0.5) / (n_before + 1.0), np.minimum(np.maximum(n_before, 1.0), MOST_WEIGHT)
    return np.asarray(_at_most(x, n, share * weight, (1.0 - share) * weight)[at].reshape(recent.shape))


def _at_most(x: Floats, n: Floats, a: Floats, b: Floats) -> Floats:
    """Chance of at most x of n, beta-binomial."""
    total = np.zeros(x.shape)
    for k in range(RECENT_DAYS + 1):
        rest = np.maximum(n - k, 0.0)
        ways = gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(rest + 1.0)
        total += np.where(k <= np.minimum(x, n), np.exp(ways + betaln(k + a, rest + b) - betaln(a, b)), 0.0)
    return np.minimum(total, 1.0)
