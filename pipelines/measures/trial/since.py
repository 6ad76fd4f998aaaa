"""After a trial: does the normal swing lie where it lay before? Equivalence has to be shown, not assumed."""

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
class SinceTrial:
    """One measurement of the normal swing after a trial against before it.

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


def since_trial(before: Floats, after: Floats, margin: float) -> SinceTrial | None:
    """Whether session means after a trial lie within the player's own normal of before.

    Parameters
    ----------
    before, after : array (k,)
        One mean per session; no missing values.
    margin : float
        Smallest worthwhile change, in the unit of the measurement.

    Returns
    -------
    SinceTrial or None
        None with fewer than 4 sessions before or 2 after.

    Notes
    -----
    t distribution with the pooled spread between sessions; the spread has a prior of 4 degrees of freedom at half the margin.
    Back: probability above .90 that the change lies within the margin; not back: above .90 that it lies outside.
    Source: [Schuirmann1987], [Kruschke2018]. Checked: tests/unit/test_trial_since.py
    """
    if len(before) < LEAST_BEFORE or len(after) < LEAST_AFTER:
        return None
    squares = float(np.sum((before - before.mean()) ** 2) + np.sum((after - after.mean()) ** 2))
    df = len(before) + len(after) - 2 + PRIOR_DF
    spread = float(np.sqrt((squares + PRIOR_DF * (0.5 * margin) ** 2) / df))
    error = spread * float(np.sqrt(1 / len(before) + 1 / len(after)))
    change = float(after.mean() - before.mean())
    within = float(stdtr(df, (margin - change) / error) - stdtr(df, (-margin - change) / error))
    reach = float(stdtrit(df, 0.95)) * error
    state: Return = "back" if within > SURE else "not_back" if within < 1 - SURE else "not_clear"
    more = _more_sessions(spread, margin, len(before), len(after)) if state == "not_clear" else None
    return SinceTrial(
        len(before), len(after), float(before.mean()), change, change - reach, change + reach, margin, within, state, more
    )


def _more_sessions(spread: float, margin: float, n_before: int, n_after: int) -> int | None:
    """Sessions after which a change of 0 would be shown to lie within the margin: 1.96 errors fit into it."""
    wanted = (margin / (1.96 * spread)) ** 2 - 1 / n_before
    if wanted <= 0:
        return None
    more = max(int(np.ceil(1 / wanted)) - n_after, 1)
    return more if more <= MOST_SESSIONS else None
