"""The change that can be told from a typical error."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Floats = NDArray[np.float64]


def detectable_change(error: float, confidence: float = 0.95) -> float:
    """Minimal detectable change between two single sessions, in the unit of the typical error.

    Notes
    -----
    ``z sqrt(2) TE``: 2.772 TE at 95 %, 2.326 TE at 90 %.

    Source: [Hopkins2004]
    Checked: tests/published/test_chances.py
    """
    return float(ndtri(0.5 + confidence / 2.0) * np.sqrt(2.0) * error)
