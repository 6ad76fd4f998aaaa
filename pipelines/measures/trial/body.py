"""Load and reports in the weeks of a trial against the weeks before: whether there is something to ask."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

from pipelines.measures.trial.verdict import BodySide

Floats = NDArray[np.float64]

SURE = 0.90
POINT = 1.0
LOAD_RATIO = 1.6
LEAST_BEFORE, LEAST_DURING = 7, 4
AUTOCORRELATION_DURING, AUTOCORRELATION_BEFORE = 1.8, 2.3
PRIOR_DF, PRIOR_SD = 4.0, 1.0


@dataclass(frozen=True)
class ReportChange:
    """One rating (0 to 10) in the trial's weeks against the weeks before.

    Attributes
    ----------
    before, during : float
        Means.
    n_before, n_during : int
        Answers.
    raised : float
        Probability that the true level is up by a point or more.
    """

    before: float
    during: float
    n_before: int
    n_during: int
    raised: float


def report_change(before: Floats, during: Floats) -> ReportChange | None:
    """Change of one rating; None with fewer than 7 answers before or 4 during the trial.

    Parameters
    ----------
    before, during : array (k,)
        Answers; a day without an answer is not there.

    Notes
    -----
    t distribution; variance of the means ``s^2 (2.3/n_before + 1.8/n_during)`` for answers that follow each other, s with a prior
    of 4 degrees of freedom at one point. Checked: tests/unit/test_trial_since.py
    """
    if len(before) < LEAST_BEFORE or len(during) < LEAST_DURING:
        return None
    squares = float(np.sum((before - before.mean()) ** 2) + np.sum((during - during.mean()) ** 2))
    df = len(before) + len(during) - 2 + PRIOR_DF
    variance = (squares + PRIOR_DF * PRIOR_SD**2) / df
    error = float(np.sqrt(variance * (AUTOCORRELATION_BEFORE / len(before) + AUTOCORRELATION_DURING / len(during))))
    rise = float(during.mean() - before.mean())
    raised = float(stdtr(df, (rise - POINT) / error))
    return ReportChange(float(before.mean()), float(during.mean()), len(before), len(during), raised)


def load_ratio(before: float | None, during: float | None) -> float | None:
    """Swings a day in the trial's weeks over those before; None when either is unknown, or there were none before.

    Checked: tests/unit/test_trial_since.py
    """
    if before is None or during is None or before <= 0:
        return None
    return during / before


def body_side(changes: list[ReportChange | None], ratio: float | None) -> BodySide:
    """Whether to ask before a change is kept.

    Ask: a rating is up by a point with probability above .90, or swings a day are more than 1.6 times those before. Calm: ratings
    were answered and nothing of that holds. Unknown: nothing was answered and load gives no reason to ask.
    Checked: tests/unit/test_trial_since.py
    """
    known = [change for change in changes if change is not None]
    if any(change.raised > SURE for change in known) or (ratio is not None and ratio > LOAD_RATIO):
        return "ask"
    return "calm" if known else "unknown"
