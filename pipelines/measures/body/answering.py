"""Whether answers come: adherence, runs of silence, and weekly means that say so when they are too few."""

from __future__ import annotations

import numpy as np

from pipelines.measures.load.grid import Readings, Truths, readings
from pipelines.measures.load.windows import coverage, run_length, trailing_mean

WEEK_AT_LEAST_ANSWERS = 4
"""A weekly mean needs 4 answers. Own choice."""


def adherence(answered: Truths, days: int = 28) -> Readings:
    """Share of the last ``days`` with an answer, 0 to 1; unknown until the player has answered once, and before a full window.

    Source: [Saw2015] for how low it can be where nobody asks
    """
    share = coverage(answered, days)
    started = np.maximum.accumulate(answered, axis=1)
    started[:, : days - 1] = False
    return readings(share, started)


def silent_days(answered: Truths) -> Readings:
    """Days in a row without an answer, today included; unknown before the first answer."""
    started = np.maximum.accumulate(answered, axis=1)
    return readings(run_length(~answered), started)


def week_mean(answers: Readings) -> Readings:
    """Mean answer of the last 7 days; unknown with fewer than 4 answers: reason ``too_few_answers``."""
    return trailing_mean(answers, 7, WEEK_AT_LEAST_ANSWERS)
