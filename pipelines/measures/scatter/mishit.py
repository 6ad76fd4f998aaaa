"""Mishits: drives that fall far short of the player's own middle; their rate with an interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

Floats = NDArray[np.float64]

MISHIT_SHARE = 0.80
"""A shot that carries less than this share of the player's own median is a mishit: a choice, printed with every rate."""


@dataclass(frozen=True)
class Rate:
    """A share of shots with its interval.

    Attributes
    ----------
    rate : float
        Posterior mean, 0 to 1.
    low, high : float
        95 % interval.
    standard_error : float
        Posterior standard deviation.
    n : int
        Shots.
    """

    rate: float
    low: float
    high: float
    standard_error: float
    n: int


def is_short_shot(carry_m: Floats, share: float = MISHIT_SHARE) -> NDArray[np.bool_]:
    """Which shots fall short of a share of the median carry, shape (n,); a missing carry is no mishit.

    The median is that of the shots which are not mishits themselves, so a bad day does not lower the bar.
    Checked: tests/property/test_scatter.py.
    """
    short = np.zeros(carry_m.shape, dtype=bool)
    for _ in range(5):
        good = np.isfinite(carry_m) & ~short
        if not good.any():
            return short
        limit = share * float(np.median(carry_m[good]))
        updated = np.isfinite(carry_m) & (carry_m < limit)
        if bool((updated == short).all()):
            break
        short = updated
    return short


def mishit_rate(mishits: int, n: int, prior_rate: float = 0.05, prior_shots: float = 10.0) -> Rate | None:
    """Rate of mishits with a 95 % interval from a Beta distribution; None without shots.

    Parameters
    ----------
    mishits, n : int
        Mishits among n shots.
    prior_rate, prior_shots : float
        What is usual in the squad, and how many shots that weighs; ``0.5, 1`` is the Jeffreys prior.

    Raises
    ------
    ValueError
        When there are more mishits than shots.

    Notes
    -----
    Posterior ``Beta(m + r k, n - m + (1 - r) k)``. Source: [Jeffreys]. Checked: tests/published/test_scatter.py.
    """
    if not 0 <= mishits <= n:
        raise ValueError("mishits must lie between 0 and n")
    if n == 0:
        return None
    a, b = mishits + prior_rate * prior_shots, n - mishits + (1.0 - prior_rate) * prior_shots
    mean = a / (a + b)
    low, high = (float(betaincinv(a, b, p)) for p in (0.025, 0.975))
    return Rate(mean, low, high, float(np.sqrt(mean * (1.0 - mean) / (a + b + 1.0))), n)
