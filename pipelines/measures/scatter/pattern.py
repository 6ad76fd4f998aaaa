"""Middle and spread of a shot pattern in two dimensions, robust against wild shots and steadied by a squad prior."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

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
    return shot_patterns([shots], [prior_covariance], prior_shots, tail_df, tolerance)[0]


def shot_patterns(
    shots: Sequence[Floats],
    prior_covariances: Sequence[Floats | None],
    prior_shots: float = PRIOR_SHOTS,
    tail_df: float = TAIL_DF,
    tolerance: float = 1e-7,
) -> list[ShotPattern | None]:
    """The same of many patterns, each to the last digit as if it came alone; side by side they take a fifth of the time.

    Parameters
    ----------
    shots : sequence of numpy.ndarray
        Of each pattern as for :func:`shot_pattern`.
    prior_covariances : sequence of numpy.ndarray or None
        One for each pattern.
    prior_shots, tail_df, tolerance
        As for :func:`shot_pattern`.

    Returns
    -------
    list of ShotPattern or None
        In their order.

    Notes
    -----
    Source: [LangeLittleTaylor1989]. Checked: tests/property/test_scatter.py.
    """
    if tail_df <= 2.0 or any(one.ndim != 2 or one.shape[1] != 2 for one in shots):
        raise ValueError("shots must have shape (n, 2), tails more than 2 degrees of freedom")
    found: list[ShotPattern | None] = [None] * len(shots)
    together: dict[int, list[tuple[int, _Begun]]] = {}
    for number, (one, prior) in enumerate(zip(shots, prior_covariances, strict=True)):
        begun = _begun(one[np.isfinite(one).all(axis=1)], prior, prior_shots, tail_df)
        if begun is not None:
            together.setdefault(-(-len(begun.shots) // _WIDTH), []).append((number, begun))
    for width, some in together.items():
        at_once = max(1, _AT_ONCE // (width * _WIDTH))
        for begin in range(0, len(some), at_once):
            part = some[begin : begin + at_once]
            fits = _fits([begun for _, begun in part], width * _WIDTH, tail_df, tolerance)
            for (number, begun), (x, y, xx, xy, yy) in zip(part, fits.tolist(), strict=True):
                scale = np.array([[xx, xy], [xy, yy]])
                found[number] = ShotPattern(np.array([x, y]), scale, tail_df, len(begun.shots), begun.prior[3])
    return found


_WIDTH = 16
"""Patterns of like many shots are fitted side by side, each filled up to the next multiple of so many: sums then run alike."""

_AT_ONCE = 8192
"""Shots that are looked at together stay in the processor's cache."""


@dataclass(frozen=True)
class _Begun:
    """Shots of a pattern, (n, 2); where its fit begins (middle, elements of the scale); elements of the prior and its shots."""

    shots: Floats
    start: tuple[float, float, float, float, float]
    prior: tuple[float, float, float, float]


def _begun(known: Floats, prior_covariance: Floats | None, prior_shots: float, tail_df: float) -> _Begun | None:
    if len(known) < FEWEST_SHOTS:
        return None
    prior = np.zeros((2, 2)) if prior_covariance is None else prior_covariance * ((tail_df - 2.0) / tail_df)
    weight = 0.0 if prior_covariance is None else prior_shots
    middle, away = np.median(known, axis=0), known - known.mean(axis=0)
    scale = away.T @ away / (len(known) - 1) + prior
    if scale[0, 0] * scale[1, 1] - scale[0, 1] ** 2 <= 0.0:
        return None
    start = (float(middle[0]), float(middle[1]), float(scale[0, 0]), float(scale[0, 1]), float(scale[1, 1]))
    return _Begun(known, start, (weight * float(prior[0, 0]), weight * float(prior[0, 1]), weight * float(prior[1, 1]), weight))


def _fits(begun: Sequence[_Begun], width: int, tail_df: float, tolerance: float) -> Floats:
    """Middle and the three distinct elements of the scale of each pattern: shape (p, 5). Each ends when it stands by itself."""
    x, y, there = (np.zeros((len(begun), width)) for _ in range(3))
    for row, one in enumerate(begun):
        n = len(one.shots)
        x[row, :n], y[row, :n], there[row, :n] = one.shots[:, 0], one.shots[:, 1], 1.0
    fits, prior = np.array([one.start for one in begun]), np.array([one.prior for one in begun])
    n, moving = there.sum(axis=1) + prior[:, 3], np.arange(len(begun))
    for _ in range(500):
        before, after = fits[moving], _step(x, y, there, fits[moving], prior, n, tail_df)
        fits[moving] = after
        goes_on = np.abs(after - before)[:, 2:].max(axis=1) >= tolerance * np.abs(before)[:, 2:].max(axis=1)
        if not goes_on.any():
            break
        if not goes_on.all():
            moving, x, y, there, prior, n = (one[goes_on] for one in (moving, x, y, there, prior, n))
    return fits


def _step(x: Floats, y: Floats, there: Floats, fits: Floats, prior: Floats, n: Floats, tail_df: float) -> Floats:
    """One step of every pattern, (p, 5); two by two is too few for matrices to be fast."""
    middle_x, middle_y, xx, xy, yy = fits.T[:, :, None]
    dx, dy = x - middle_x, y - middle_y
    squares = dx * (yy * dx - (2.0 * xy) * dy) + dy * (xx * dy)
    weights = there * (tail_df + 2.0) / (tail_df + squares / (xx * yy - xy * xy))
    total = weights.sum(axis=1)
    centre_x, centre_y = (weights * x).sum(axis=1) / total, (weights * y).sum(axis=1) / total
    dx, dy = x - centre_x[:, None], y - centre_y[:, None]
    weighted = weights * dx
    spreads = (weighted * dx).sum(axis=1), (weighted * dy).sum(axis=1), (weights * dy * dy).sum(axis=1)
    elements = ((prior[:, place] + spread) / n for place, spread in enumerate(spreads))
    return np.stack([centre_x, centre_y, *elements], axis=1)
