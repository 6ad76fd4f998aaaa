"""Ellipses around a shot pattern, with the multipliers that small numbers of shots need; circular summaries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
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
