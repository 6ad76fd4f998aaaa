"""Correlation inside players: what is left when every player's own mean is taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from pipelines.measures.load.grid import Floats


@dataclass(frozen=True)
class RepeatedCorrelation:
    """Repeated-measures correlation.

    Attributes
    ----------
    r, p_value, low, high : float
        With its two-sided p-value and 95 % interval, both valid for independent days only.
    degrees_of_freedom : int
    """

    r: float
    p_value: float
    low: float
    high: float
    degrees_of_freedom: int


def repeated_correlation(x: Floats, y: Floats, group: np.ndarray) -> RepeatedCorrelation | None:
    """Common within-player correlation of two variables.

    Parameters
    ----------
    x, y : (n,) arrays
    group : (n,) array
        Player of each pair.

    Returns
    -------
    RepeatedCorrelation or None
        None with fewer than 2 degrees of freedom, or without spread inside players.

    Notes
    -----
    Correlation of the values with each player's mean removed; ``df = n - players - 1``. With days that resemble the day before,
    its p-value is far too small (.31 instead of .05 false positives at autocorrelation .8): use the circular shift instead.

    Source: [BlandAltman1995]
    Checked: tests/published/test_bland_altman_1995.py
    """
    names, place = np.unique(group, return_inverse=True)
    count = np.bincount(place)
    inner_x = x - (np.bincount(place, x) / count)[place]
    inner_y = y - (np.bincount(place, y) / count)[place]
    df = x.size - names.size - 1
    scale = float(np.sqrt((inner_x**2).sum() * (inner_y**2).sum()))
    if df < 2 or scale <= 0:
        return None
    r = float(np.clip((inner_x * inner_y).sum() / scale, -1.0, 1.0))
    t = r * np.sqrt(df / max(1.0 - r * r, 1e-300))
    half = 1.959963984540054 / np.sqrt(df - 1)
    centre = np.arctanh(np.clip(r, -1 + 1e-15, 1 - 1e-15))
    return RepeatedCorrelation(
        r, float(2 * stats.t.sf(abs(t), df)), float(np.tanh(centre - half)), float(np.tanh(centre + half)), df
    )
