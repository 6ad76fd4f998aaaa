"""Intervals of a share and of the rate of a count."""

from __future__ import annotations

from scipy.special import betaincinv, gammaincinv

LEVEL = 0.90


def share_interval(hits: int, tries: int, level: float = LEVEL) -> tuple[float, float]:
    """Equal-tailed interval of a share.

    Parameters
    ----------
    hits, tries : int
        ``0 <= hits <= tries``, ``tries >= 1``.
    level : float

    Returns
    -------
    tuple of float
        From the beta distribution with half a hit and half a miss added; 0 and 1 where there was no hit, or no miss.

    Source: [BrownCaiDasGupta2001]. Checked: tests/published/test_rounds.py
    """
    tail = (1.0 - level) / 2.0
    low = 0.0 if hits == 0 else float(betaincinv(hits + 0.5, tries - hits + 0.5, tail))
    high = 1.0 if hits == tries else float(betaincinv(hits + 0.5, tries - hits + 0.5, 1.0 - tail))
    return low, high


def count_interval(count: int, exposure: float, level: float = LEVEL) -> tuple[float, float]:
    """Exact interval of the rate of a Poisson count.

    Parameters
    ----------
    count : int
    exposure : float
        Above 0; the rate is per one of it.
    level : float

    Returns
    -------
    tuple of float

    Source: [Garwood1936]. Checked: tests/published/test_rounds.py
    """
    tail = (1.0 - level) / 2.0
    low = 0.0 if count == 0 else float(gammaincinv(count, tail))
    return low / exposure, float(gammaincinv(count + 1, 1.0 - tail)) / exposure
