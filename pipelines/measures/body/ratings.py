"""Ratings of other scales turned so that higher is worse, and the published sizes of change for a series of them."""

from __future__ import annotations

import numpy as np

from pipelines.measures.load.grid import Floats


def worse_is_higher(rating: float, lowest: float, highest: float, *, higher_is_better: bool) -> float:
    """A rating turned so that higher is worse: ``lowest + highest - rating`` when higher was better, else as it is.

    Raises
    ------
    ValueError
        When the rating lies outside its scale.

    Source: [McLean2010] rates 1 to 5 with higher better, [Hooper1995] 1 to 7 with higher worse (scales second-hand)
    Checked: tests/published/test_rating_directions.py
    """
    if not lowest <= rating <= highest:
        raise ValueError(f"{rating} lies outside {lowest} to {highest}")
    return lowest + highest - rating if higher_is_better else rating


def smallest_worthwhile_change_pct(mean: float, spread: float) -> float:
    """Smallest worthwhile change of a series [% of its mean]: ``0.3 SD / mean * 100``.

    Source: [Saw2018]
    Checked: tests/published/test_saw_2018.py
    """
    return 30.0 * spread / mean


def smallest_real_change_of_means(spread: float, n: int) -> float:
    """Smallest real change of a mean of n values, ``1.96 sqrt(2) SD / sqrt(n)``: for groups, never for one answer.

    Source: [Saw2018]
    Checked: tests/published/test_saw_2018.py
    """
    return float(1.96 * np.sqrt(2.0) * spread / np.sqrt(n))


def robust_score(value: float, earlier: Floats, floor: float = 0.0) -> float:
    """Distance from the median in robust standard deviations, ``(x - median) / max(1.4826 MAD, floor)``.

    Notes
    -----
    Ordinal answers with a small MAD exaggerate: pass a floor of 0.5 to 1 scale points.

    Raises
    ------
    ValueError
        When the spread with its floor is 0.

    Checked: tests/published/test_own_answers.py
    """
    middle = float(np.median(earlier))
    spread = max(1.4826 * float(np.median(np.abs(earlier - middle))), floor)
    if spread <= 0:
        raise ValueError("the earlier answers have no spread and there is no floor")
    return (value - middle) / spread
