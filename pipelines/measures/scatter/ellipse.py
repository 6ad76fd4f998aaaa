"""Ellipses around a shot pattern, with the multipliers that small numbers of shots need; circular summaries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtri

Floats = NDArray[np.float64]


def large_sample_multiplier(share: float) -> float:
    """Squared multiplier of the ellipse that holds a share of a known normal pattern: ``-2 ln(1 - P)``.

    Source: [Hotelling1931]. Checked: tests/published/test_scatter.py.
    """
    return float(-2.0 * np.log1p(-share))


def next_shot_multiplier(n: int, share: float) -> float:
    """Squared multiplier of the ellipse that holds one further shot with a probability, from n shots.

    Notes
    -----
    ``2 (n-1)(n+1)/(n (n-2)) F(P; 2, n-2)``. Normal shots. Source: [Hotelling1931]. Checked: tests/published/test_scatter.py.

    Raises
    ------
    ValueError
        Below 3 shots.
    """
    return middle_multiplier(n, share) * (n + 1.0)


def middle_multiplier(n: int, share: float) -> float:
    """Squared multiplier of the confidence ellipse of the middle, from n shots: ``2 (n-1)/(n (n-2)) F(P; 2, n-2)``.

    Source: [Hotelling1931]. Checked: tests/published/test_scatter.py.

    Raises
    ------
    ValueError
        Below 3 shots.
    """
    if n < 3:
        raise ValueError("an ellipse needs three shots")
    return float(2.0 * (n - 1.0) / (n * (n - 2.0)) * fdtri(2.0, n - 2.0, share))


@dataclass(frozen=True)
class Ellipse:
    """Half axes and tilt.

    Attributes
    ----------
    long_half, short_half : float
        In the units of the covariance's root.
    tilt_deg : float
        Of the long axis from the first coordinate toward the second, -90 to 90.
    """

    long_half: float
    short_half: float
    tilt_deg: float


def ellipse(covariance: Floats, squared_multiplier: float) -> Ellipse:
    """Ellipse ``(x - m)' S^-1 (x - m) = k`` of a covariance, shape (2, 2).

    Checked: tests/property/test_scatter.py.
    """
    values, vectors = np.linalg.eigh(covariance)
    tilt = float(np.degrees(np.arctan2(vectors[1, 1], vectors[0, 1])))
    tilt = (tilt + 90.0) % 180.0 - 90.0
    short, long = (float(np.sqrt(max(value, 0.0) * squared_multiplier)) for value in values)
    return Ellipse(long, short, tilt)


def mean_radius_factor(n: ArrayLike) -> Floats:
    """Mean distance from the group's own middle over sigma, for n shots of a circular normal group.

    Notes
    -----
    ``sqrt(pi (n-1)/(2 n))``; the limit is 1.2533. Source: [ClosedFormPrecision]. Checked: tests/published/test_scatter.py.
    """
    count = np.asarray(n, dtype=np.float64)
    factor: Floats = np.sqrt(np.pi * (count - 1.0) / (2.0 * count))
    return factor


def circle_factor(share: ArrayLike) -> Floats:
    """Radius over sigma of the circle that holds a share of a circular normal pattern: ``sqrt(-2 ln(1 - P))``.

    Source: [ClosedFormPrecision]. Checked: tests/published/test_scatter.py.
    """
    factor: Floats = np.sqrt(-2.0 * np.log1p(-np.asarray(share, dtype=np.float64)))
    return factor


def extreme_spread(shots: Floats) -> float | None:
    """Largest distance between two shots of a group, shape (n, 2); None below two shots.

    It grows with the number of shots: compare groups of one size only. Source: [ClosedFormPrecision].
    Checked: tests/published/test_scatter.py.
    """
    known = shots[np.isfinite(shots).all(axis=1)]
    if len(known) < 2:
        return None
    apart = known[:, None, :] - known[None, :, :]
    return float(np.sqrt((apart**2).sum(axis=-1).max()))
