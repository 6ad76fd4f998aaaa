"""Control charts with a known target: tabular cumulative sums and the exponentially weighted mean."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def cumulative_sums(values: Floats, target: float, slack: float) -> tuple[Floats, Floats]:
    """Upper and lower tabular cumulative sums after each value, in the unit of the values.

    Parameters
    ----------
    values : (n,) array
        Not NaN.
    target : float
    slack : float
        Allowance: half of the shift that matters.

    Returns
    -------
    (n,) arrays
        Upper and lower sums, both at least 0.

    Notes
    -----
    ``S_hi = max(0, S_hi + x - target - k)``, ``S_lo = max(0, S_lo + target - k - x)``, both from 0.

    Source: [NistCusum]
    Checked: tests/published/test_nist_charts.py
    """
    upper, lower = np.empty_like(values), np.empty_like(values)
    high = low = 0.0
    for index, value in enumerate(values):
        high = max(0.0, high + value - target - slack)
        low = max(0.0, low + target - slack - value)
        upper[index], lower[index] = high, low
    return upper, lower


def exponential_means(values: Floats, start: float, weight: float) -> Floats:
    """Exponentially weighted mean after each value, in the unit of the values.

    Parameters
    ----------
    values : (n,) array
        Not NaN.
    start : float
        Mean before the first value.
    weight : float
        Of the newest value, 0 to 1.

    Notes
    -----
    ``E = weight * x + (1 - weight) * E``.

    Source: [NistEwma]
    Checked: tests/published/test_nist_charts.py
    """
    means = np.empty_like(values)
    mean = start
    for index, value in enumerate(values):
        mean = weight * value + (1.0 - weight) * mean
        means[index] = mean
    return means


def exponential_limits(target: float, sd: float, weight: float, width: float = 3.0) -> tuple[float, float]:
    """Lower and upper limit of the exponentially weighted mean after many values, in the unit of the target.

    Notes
    -----
    ``target -+ width * sd * sqrt(weight / (2 - weight))``.

    Source: [NistEwma]
    Checked: tests/published/test_nist_charts.py
    """
    half = width * sd * np.sqrt(weight / (2.0 - weight))
    return float(target - half), float(target + half)
