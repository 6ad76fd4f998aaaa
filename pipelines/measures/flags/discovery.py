"""Keeping false discoveries down when many players and metrics are looked at every night."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def adjusted_p_values(p_values: Floats, n_tests: int | None = None) -> Floats:
    """Benjamini-Hochberg adjusted p-values: the smallest false-discovery rate at which each would still be rejected.

    Parameters
    ----------
    p_values : (m,) array
        Those at hand; not NaN.
    n_tests : int, optional
        How many were tested, when only the small ones are at hand. Those left out are taken as larger than all others.

    Returns
    -------
    (m,) array
        In the order given.

    Raises
    ------
    ValueError
        When fewer were tested than are at hand, or a value lies outside 0 to 1.

    Notes
    -----
    ``q_(i) = min over j >= i of p_(j) m / j``, at most 1. Reject where ``q <= rate``.

    Source: [BenjaminiHochberg1995]. On charts that run in parallel, pointwise in time: [GandyLau2012].
    Checked: tests/published/test_benjamini_hochberg_1995.py
    """
    p_values = np.asarray(p_values, dtype=np.float64)
    m = p_values.size if n_tests is None else n_tests
    if m < p_values.size or np.any((p_values < 0) | (p_values > 1)) or np.any(np.isnan(p_values)):
        raise ValueError("p-values must lie within 0 and 1, and not be more than were tested")
    order = np.argsort(p_values, kind="stable")
    scaled = p_values[order] * m / np.arange(1, p_values.size + 1)
    adjusted = np.minimum(np.minimum.accumulate(scaled[::-1])[::-1], 1.0)
    restored = np.empty_like(adjusted)
    restored[order] = adjusted
    return restored


def joint_p_value(p_values: Floats, n_tests: int | None = None) -> float:
    """Simes p-value that none of several streams has changed: one value per player, so that one player is one message.

    Parameters
    ----------
    p_values : (m,) array
        At least one.
    n_tests : int, optional
        How many were tested, when only the small ones are at hand (the result is then an upper bound).

    Notes
    -----
    ``min over j of p_(j) m / j``: the smallest Benjamini-Hochberg adjusted p-value.

    Source: [Simes1986]
    Checked: tests/unit/test_discovery.py
    """
    if p_values.size == 1 and n_tests is not None and n_tests >= 1 and 0.0 <= p_values[0] <= 1.0:
        return min(float(p_values[0]) * n_tests, 1.0)
    return float(np.min(adjusted_p_values(p_values, n_tests)))
