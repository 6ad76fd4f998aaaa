"""The grid of hyper-parameters over which the trend is averaged."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

WINDOW_DAYS = 28.0
"""Change is reported over four weeks."""

JUMP_SHARE, JUMP_VARIANCE = 0.02, 6.25
"""The level may jump before any session: without that a step is followed late, with intervals that do not hold it."""


@dataclass(frozen=True)
class TrendGrid:
    """G points of hyper-parameters, with what they share. Units are scale units of the metric and days.

    Attributes
    ----------
    session_variance : (G,) array
        Variance of the true session value about the level: form, bay, day (``tau**2``).
    level_variance : (G,) array
        Variance that the level gains in a day beside its slope.
    slope_variance : (G,) array
        Variance that the slope (per day) gains in a day.
    prior_level_variance, prior_slope_variance : float
    odd_share : float
        Prior probability that a session is odd.
    odd_factor : float
        Session variance of an odd session over that of an ordinary one.
    jump_share : float
        Prior probability that the level jumped just before a session.
    jump_variance : float
        Variance of such a jump.
    weight_half_life_days : float
        Age at which evidence for a grid point counts half.
    """

    session_variance: Floats
    level_variance: Floats
    slope_variance: Floats
    prior_level_variance: float = 1.0e4
    prior_slope_variance: float = (2.0 / WINDOW_DAYS) ** 2
    odd_share: float = 0.05
    odd_factor: float = 17.0
    jump_share: float = 0.0
    jump_variance: float = 0.0
    weight_half_life_days: float = np.inf

    @property
    def n_points(self) -> int:
        """How many points."""
        return self.session_variance.size


def standard_grid(weight_half_life_days: float = 90.0) -> TrendGrid:
    """The 48 points that are used: session noise x wander of the level x wander of the slope, flat prior.

    Notes
    -----
    In units of the smallest worthwhile change: session SD .4, .7, 1, 1.5; level wander 0, .4, .8 in 28 days; change of the
    28-day slope over 28 days .5, 1, 2, 4. A slope that cannot change (0) is left out on purpose: it makes the filter blind to a
    new ramp after a long flat history. Weights fade with a half-life, for the same reason.

    Source: [HarrisonStevens1976], [Raftery2010]
    Checked: tests/unit/test_trend_filter.py, tests/benchmarks/test_coverage.py
    """
    points = np.array(list(product((0.4, 0.7, 1.0, 1.5), (0.0, 0.4, 0.8), (0.5, 1.0, 2.0, 4.0))))
    return TrendGrid(
        session_variance=points[:, 0] ** 2,
        level_variance=points[:, 1] ** 2 / WINDOW_DAYS,
        slope_variance=points[:, 2] ** 2 / WINDOW_DAYS**3,
        jump_share=JUMP_SHARE,
        jump_variance=JUMP_VARIANCE,
        weight_half_life_days=weight_half_life_days,
    )
