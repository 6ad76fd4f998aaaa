"""Since a day: do sessions lie where they lay before it? Equivalence has to be shown, not assumed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

Floats = NDArray[np.float64]
Return = Literal["back", "not_back", "not_clear"]

SURE = 0.90
LEAST_BEFORE, LEAST_AFTER = 4, 2
PRIOR_DF = 4.0
MOST_SESSIONS = 30


@dataclass(frozen=True)
class Moments:
    """Session values on one side of a day, for one comparison or many.

    Attributes
    ----------
    n : array (k,)
        Sessions.
    mean : array (k,)
    squares : array (k,)
        Sum of squared deviations from the mean.
    """

    n: Floats
    mean: Floats
    squares: Floats


@dataclass(frozen=True)
class Differences:
    """Means after less means before.

    Attributes
    ----------
    change, low, high : array (k,)
        With a 90 % interval, in the unit of the values.
    within : array (k,)
        Probability that the true change lies within the margin.
    spread : array (k,)
        Standard deviation between sessions.
    """

    change: Floats
    low: Floats
    high: Floats
    within: Floats
    spread: Floats

    def states(self) -> list[Return]:
        """What each is called."""
        return ["back" if one > SURE else "not_back" if one < 1 - SURE else "not_clear" for one in self.within]


@dataclass(frozen=True)
class NormalSince:
    """One measurement since a day against before it.

    Attributes
    ----------
    n_before, n_after : int
        Sessions.
    before : float
        Mean of the session means before.
    change, low, high : float
        After minus before with a 90 % interval, in the unit of the measurement.
    margin : float
        Own normal: the smallest worthwhile change on either side.
    within : float
        Probability that the true change lies within the margin.
    state : {"back", "not_back", "not_clear"}
    more_sessions : int or None
        Further sessions after which an unchanged normal would be shown; None when it is clear, or out of reach.
    """

    n_before: int
    n_after: int
    before: float
    change: float
    low: float
    high: float
    margin: float
    within: float
    state: Return
    more_sessions: int | None


def differences(before: Moments, after: Moments, margin: Floats) -> Differences:
    """Whether session values since a day lie within the player's own normal of before.

    Parameters
    ----------
    before, after : Moments
        At least 4 sessions before and 2 after.
    margin : array (k,)
        Smallest worthwhile change, in the unit of the values.

    Returns
    -------
    Differences

    Notes
    -----
    t distribution with the pooled spread between sessions; the spread has a prior of 4 degrees of freedom at half the margin.
    Back: probability above .90 that the change lies within the margin; not back: above .90 that it lies outside.
    Source: [Schuirmann1987], [Kruschke2018]. Checked: tests/unit/test_trial_since.py, tests/unit/test_since.py
    """
    df = before.n + after.n - 2 + PRIOR_DF
    spread = np.sqrt((before.squares + after.squares + PRIOR_DF * (0.5 * margin) ** 2) / df)
    error = spread * np.sqrt(1 / before.n + 1 / after.n)
    change = after.mean - before.mean
    within = stdtr(df, (margin - change) / error) - stdtr(df, (-margin - change) / error)
    reach = stdtrit(df, 0.95) * error
    return Differences(change, change - reach, change + reach, within, spread)


def normal_since(before: Floats, after: Floats, margin: float) -> NormalSince | None:
    """Whether session means since a day lie within the player's own normal of before it.

    Parameters
    ----------
    before, after : array (k,)
        One mean per session; no missing values.
    margin : float
        Smallest worthwhile change, in the unit of the measurement.

    Returns
    -------
    NormalSince or None
        None with fewer than 4 sessions before or 2 after.

    Notes
    -----
    See :func:`differences`. Source: [Schuirmann1987], [Kruschke2018]. Checked: tests/unit/test_trial_since.py
    """
    if len(before) < LEAST_BEFORE or len(after) < LEAST_AFTER:
        return None
    found = differences(_moments(before), _moments(after), np.array([margin]))
    change, low, high, within, spread = (
        float(one[0]) for one in (found.change, found.low, found.high, found.within, found.spread)
    )
    state = found.states()[0]
    more = _more_sessions(spread, margin, len(before), len(after)) if state == "not_clear" else None
    return NormalSince(len(before), len(after), float(before.mean()), change, low, high, margin, within, state, more)


def _moments(values: Floats) -> Moments:
    squares = np.sum((values - values.mean()) ** 2)
    return Moments(np.array([float(len(values))]), np.array([values.mean()]), np.array([squares]))


def _more_sessions(spread: float, margin: float, n_before: int, n_after: int) -> int | None:
    """Sessions after which a change of 0 would be shown to lie within the margin: 1.96 errors fit into it."""
    wanted = (margin / (1.96 * spread)) ** 2 - 1 / n_before
    if wanted <= 0:
        return None
    more = max(int(np.ceil(1 / wanted)) - n_after, 1)
    return more if more <= MOST_SESSIONS else None
