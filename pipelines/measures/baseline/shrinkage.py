"""Levels of players drawn toward the squad, by as much as their own data leave open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_GRID_POINTS = 4000


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
    integrated on a grid. A moment estimate of tau**2 can be 0 and then claims that all players are alike; this cannot.

    Source: [Rubin1981]
    Checked: tests/published/test_shrinkage.py
    """
    if values.size < 3 or np.any(variances <= 0):
        raise ValueError("shrinkage needs at least three values with positive variances")
    spread = max(float(values.std(ddof=1)), float(np.sqrt(variances.max())))
    tau = (np.arange(_GRID_POINTS) + 0.5) / _GRID_POINTS * 10.0 * spread
    total = variances[None, :] + tau[:, None] ** 2
    precision = (1.0 / total).sum(axis=1)
    mu = (values / total).sum(axis=1) / precision
    log_density = -0.5 * (np.log(total) + (values - mu[:, None]) ** 2 / total).sum(axis=1) - 0.5 * np.log(precision)
    weight = np.exp(log_density - log_density.max())
    weight /= weight.sum()
    share = variances / total
    mean = share * mu[:, None] + (1.0 - share) * values
    variance = (1.0 - share) * variances + share**2 / precision[:, None]
    level = weight @ mean
    sd = np.sqrt(weight @ (variance + (mean - level) ** 2))
    return ShrunkenLevels(level, sd, weight @ share, float(weight @ mu), float(weight @ tau))
