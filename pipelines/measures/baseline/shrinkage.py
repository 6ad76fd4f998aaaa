"""Levels of players drawn toward the squad, by as much as their own data leave open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_GRID_POINTS = 4000
_LOOK_EVERY, _LOWEST = 20, -80.0
"""Where the spread may lie is seen from every twentieth point; where the logarithm of the density lies so far below the largest,
nothing of it is left in any digit."""


@dataclass(frozen=True)
class ShrunkenLevels:
    """Levels of k players with what they owe to the squad.

    Attributes
    ----------
    level, sd : (k,) arrays
        Posterior mean and standard deviation of each true level.
    squad_share : (k,) array
        Share of the estimate that is squad, 0 to 1.
    squad_mean, between_sd : float
        Posterior means of the squad's mean and of the standard deviation between players.
    """

    level: Floats
    sd: Floats
    squad_share: Floats
    squad_mean: float
    between_sd: float


def shrunken_levels(values: Floats, variances: Floats) -> ShrunkenLevels:
    """Posterior of the true levels, with the spread between players integrated out.

    Parameters
    ----------
    values, variances : (k,) arrays
        One value per player and its known sampling variance, above 0; at least three players. No NaN.

    Returns
    -------
    ShrunkenLevels

    Raises
    ------
    ValueError
        With fewer than three players, or a variance that is not positive.

    Notes
    -----
    ``y_j ~ N(theta_j, v_j)``, ``theta_j ~ N(mu, tau**2)``, flat priors on mu and on tau > 0. Given tau all is normal; tau is
    integrated on a grid, of which only those points are worked out at which it may lie. A moment estimate of tau**2 can be 0 and
    then claims that all players are alike; this cannot.

    Source: [Rubin1981]
    Checked: tests/published/test_shrinkage.py
    """
    if values.size < 3 or np.any(variances <= 0):
        raise ValueError("shrinkage needs at least three values with positive variances")
    spread = max(float(values.std(ddof=1)), float(np.sqrt(variances.max())))
    grid = (np.arange(_GRID_POINTS) + 0.5) / _GRID_POINTS * 10.0 * spread
    middle = float(values.mean())
    about = values - middle
    seen = _density(grid[::_LOOK_EVERY], about, variances).log
    near = np.flatnonzero(seen > seen.max() + _LOWEST)
    tau = grid[max(near[0] - 1, 0) * _LOOK_EVERY : (near[-1] + 1) * _LOOK_EVERY + 1]
    log_density, inverse, precision, mu = vars(_density(tau, about, variances)).values()
    weight = np.exp(log_density - log_density.max())
    weight /= weight.sum()
    share = np.multiply(inverse, variances, out=inverse)  # that is squad, at each tau
    # level at each tau: about + share * (mu - about), with variance (1 - share) variances + share**2 / precision
    by_mu = np.stack([weight, weight * mu, weight * mu**2, weight / precision])
    first, first_mu, _, _ = np.einsum("wt,tk->wk", by_mu, share)
    level = about + first_mu - first * about
    np.square(share, out=share)
    second, second_mu, second_mu2, of_mean = np.einsum("wt,tk->wk", by_mu, share)
    moved = second_mu2 - 2.0 * second_mu * about + second * about**2 - (first_mu - first * about) ** 2
    variance = (1.0 - first) * variances + of_mean + np.maximum(moved, 0.0)
    return ShrunkenLevels(level + middle, np.sqrt(variance), first, float(weight @ mu) + middle, float(weight @ tau))


@dataclass(frozen=True)
class _Density:
    """Of each of t spreads: logarithm of its density, and given it inverse variances of the values, (t, k), their sum, and mu."""

    log: Floats
    inverse: Floats
    precision: Floats
    mu: Floats


def _density(tau: Floats, about: Floats, variances: Floats) -> _Density:
    total = variances + np.square(tau)[:, None]
    log_total, inverse = np.log(total).sum(axis=1), np.divide(1.0, total, out=total)
    precision = inverse.sum(axis=1)
    mu = np.einsum("tk,k->t", inverse, about) / precision
    squares = np.einsum("tk,k->t", inverse, about**2) - precision * mu**2  # about the mean that is likeliest at each tau
    return _Density(-0.5 * (log_total + squares + np.log(precision)), inverse, precision, mu)
