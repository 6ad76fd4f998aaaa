"""Typical error, the change that can be told from it, and the chances that a change is better, trivial or worse."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri, stdtr

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Chances:
    """Probabilities that a true change is beyond the smallest worthwhile change, within it, or beyond it downward."""

    better: float
    trivial: float
    worse: float


def typical_error(differences: Floats) -> float | None:
    """Typical error of one value, from test-retest differences, in their unit; None with fewer than two.

    Notes
    -----
    Standard deviation of the differences over the square root of 2.

    Source: [Hopkins2004]
    Checked: tests/published/test_chances.py
    """
    if differences.size < 2:
        return None
    return float(differences.std(ddof=1) / np.sqrt(2.0))


def change_error(error: float, n_before: int = 1, n_after: int = 1) -> float:
    """Standard error of the change between two means of so many sessions, in the unit of the typical error.

    Source: [Hopkins2004]
    Checked: tests/published/test_chances.py
    """
    return float(error * np.sqrt(1.0 / n_before + 1.0 / n_after))


def detectable_change(error: float, confidence: float = 0.95) -> float:
    """Minimal detectable change between two single sessions, in the unit of the typical error.

    Notes
    -----
    ``z sqrt(2) TE``: 2.772 TE at 95 %, 2.326 TE at 90 %.

    Source: [Hopkins2004]
    Checked: tests/published/test_chances.py
    """
    return float(ndtri(0.5 + confidence / 2.0) * np.sqrt(2.0) * error)


def chances(change: float, standard_error: float, worthwhile: float, degrees_of_freedom: float | None = None) -> Chances:
    """Chances that the true change is better, trivial or worse, with a flat prior.

    Parameters
    ----------
    change, standard_error, worthwhile : float
        Observed change, its standard error (above 0), and the smallest worthwhile change (at least 0), all in one unit.
    degrees_of_freedom : float, optional
        Of the standard error when it was estimated; without, it is taken as known.

    Raises
    ------
    ValueError
        When the standard error is not positive, or the smallest worthwhile change negative.

    Notes
    -----
    ``P(true > SWC) = 1 - Phi((SWC - d) / SE)``; t in place of Phi when the error is estimated.

    Source: [Hopkins2004]
    Checked: tests/published/test_chances.py
    """
    if standard_error <= 0 or worthwhile < 0:
        raise ValueError("a standard error must be above 0 and a smallest worthwhile change at least 0")

    def below(limit: float) -> float:
        z = (limit - change) / standard_error
        return float(ndtr(z) if degrees_of_freedom is None else stdtr(degrees_of_freedom, z))

    better, worse = 1.0 - below(worthwhile), below(-worthwhile)
    return Chances(better, 1.0 - better - worse, worse)
