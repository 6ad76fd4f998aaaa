"""Middle and spread of a shot pattern in two dimensions, robust against wild shots and steadied by a squad prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TAIL_DF = 4.0
PRIOR_SHOTS = 10.0
FEWEST_SHOTS = 8


@dataclass(frozen=True)
class ShotPattern:
    """Bivariate t fit of a shot pattern.

    Attributes
    ----------
    middle : numpy.ndarray
        Shape (2,): location of both coordinates.
    scale : numpy.ndarray
        Shape (2, 2): scale matrix of the t distribution.
    tail_df : float
        Degrees of freedom.
    n : int
        Shots used.
    prior_shots : float
        How many shots the prior weighs.
    """

    middle: Floats
    scale: Floats
    tail_df: float
    n: int
    prior_shots: float

    @property
    def covariance(self) -> Floats:
        """Covariance, tails included: ``scale x df/(df - 2)``."""
        covariance: Floats = self.scale * (self.tail_df / (self.tail_df - 2.0))
        return covariance

    @property
    def sd(self) -> Floats:
        """Standard deviations of both coordinates, shape (2,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), dtype=np.float64)

    @property
    def correlation(self) -> float:
        """Between both coordinates."""
        return float(self.scale[0, 1] / np.sqrt(self.scale[0, 0] * self.scale[1, 1]))

    @property
    def middle_error(self) -> Floats:
        """Standard errors of the middle, shape (2,): ``scale² (df + p + 2)/((df + p) n)`` for p = 2 coordinates."""
        factor = (self.tail_df + 4.0) / (self.tail_df + 2.0)
        return np.asarray(np.sqrt(np.diag(self.scale) * factor / self.n), dtype=np.float64)

    @property
    def log_sd_error(self) -> float:
        """Standard error of the logarithm of either spread, the prior counted as shots: ``sqrt((df + 3)/(2 df m))``."""
        return float(np.sqrt((self.tail_df + 3.0) / (2.0 * self.tail_df * (self.n + self.prior_shots))))


def shot_pattern(
    shots: Floats,
    prior_covariance: Floats | None = None,
    prior_shots: float = PRIOR_SHOTS,
    tail_df: float = TAIL_DF,
    tolerance: float = 1e-7,
) -> ShotPattern | None:
    """Robust middle and spread of a shot pattern: bivariate t by EM, inverse-Wishart prior on the scale.

    Parameters
    ----------
    shots : numpy.ndarray
        Shape (n, 2), any units; rows with a missing value (NaN) are left out.
    prior_covariance : numpy.ndarray or None
        Shape (2, 2): covariance that is usual in the squad, in the same units; None: no prior.
    prior_shots : float
        How many shots the prior weighs.
    tail_df : float
        Degrees of freedom, above 2; infinity is not offered, the normal fit is not robust.
    tolerance : float
        Relative change of the scale at which the iteration ends.

    Returns
    -------
    ShotPattern or None
        None below 8 shots (reason ``too_few_shots``), or when all shots are the same.

    Raises
    ------
    ValueError
        For shots that are not of shape (n, 2), or tails of 2 or fewer degrees of freedom.

    Notes
    -----
    Weights ``(df + 2)/(df + d²)`` with d² the squared distance in units of the scale; the scale's mode under the prior is
    ``(k P + sum w r r')/(n + k)`` with P the prior scale and k its shots. No shot is cut off: wild ones count less in the
    spread and are counted by the mishit rate. Source: [LangeLittleTaylor1989].
    Checked: tests/published/test_scatter.py, tests/property/test_scatter.py.
    """
    if shots.ndim != 2 or shots.shape[1] != 2 or tail_df <= 2.0:
        raise ValueError("shots must have shape (n, 2), tails more than 2 degrees of freedom")
    known = np.asfortranarray(shots[np.isfinite(shots).all(axis=1)])  # each coordinate in one piece
    if len(known) < FEWEST_SHOTS:
        return None
    weight_of_prior = 0.0 if prior_covariance is None else prior_shots
    prior = np.zeros((2, 2)) if prior_covariance is None else prior_covariance * ((tail_df - 2.0) / tail_df)
    middle, scale = np.median(known, axis=0), _first_scale(known) + prior
    if np.linalg.det(scale) <= 0.0:
        return None
    fit: Fit = (float(middle[0]), float(middle[1]), *_distinct(scale))
    for _ in range(500):
        updated = _step(known[:, 0], known[:, 1], fit, (*_distinct(weight_of_prior * prior), weight_of_prior), tail_df)
        change = max(abs(new - old) for new, old in zip(updated[2:], fit[2:], strict=True)) / max(map(abs, fit[2:]))
        fit = updated
        if change < tolerance:
            break
    x, y, xx, xy, yy = fit
    return ShotPattern(np.array([x, y]), np.array([[xx, xy], [xy, yy]]), tail_df, len(known), weight_of_prior)


Fit = tuple[float, float, float, float, float]
"""Middle, and the three distinct elements of the scale: plain numbers, for two by two is too few for matrices to be fast."""


def _distinct(matrix: Floats) -> tuple[float, float, float]:
    return float(matrix[0, 0]), float(matrix[0, 1]), float(matrix[1, 1])


def _first_scale(shots: Floats) -> Floats:
    return np.asarray(np.cov(shots.T), dtype=np.float64)


def _step(x: Floats, y: Floats, fit: Fit, prior: tuple[float, float, float, float], tail_df: float) -> Fit:
    """One step; ``prior``: elements of the prior scale times the shots that it weighs, and those."""
    middle_x, middle_y, xx, xy, yy = fit
    prior_xx, prior_xy, prior_yy, prior_shots = prior
    dx, dy = x - middle_x, y - middle_y
    squares = dx * (yy * dx - (2.0 * xy) * dy) + dy * (xx * dy)
    weights = (tail_df + 2.0) / (tail_df + squares / (xx * yy - xy * xy))
    total = weights.sum()
    centre_x, centre_y = float(weights @ x / total), float(weights @ y / total)
    dx, dy = x - centre_x, y - centre_y
    weighted, n = weights * dx, len(x) + prior_shots
    spread_xx, spread_xy, spread_yy = float(weighted @ dx), float(weighted @ dy), float((weights * dy) @ dy)
    return centre_x, centre_y, (prior_xx + spread_xx) / n, (prior_xy + spread_xy) / n, (prior_yy + spread_yy) / n
