"""Share of directions left of a border: computed, or read of a table where very many patterns share their tails."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from pipelines.measures.scatter.tails import TAIL_FACTOR

Floats = NDArray[np.float64]
Distribution = Callable[[Floats, Floats], Floats]
"""Share below t narrow widths, given t and the share of wide shots; t may be used up."""

STEPS, REACH = 128, 40
"""Cells of the table for a narrow width, and how far it goes to either side: beyond that nothing but 0 and 1 is left to say."""

_AT_ONCE = 8192
"""Values that are read at a time stay in the processor's cache."""


def distribution(t: Floats, tail_share: Floats) -> Floats:
    """Share of directions below t narrow widths; ``tail_share`` broadcasts. ``t`` is used up."""
    below: Floats = ndtr(t)
    if tail_share.any():
        t *= 1.0 / TAIL_FACTOR
        wide = ndtr(t, out=t)
        wide -= below
        wide *= tail_share
        below += wide
    return below


def tabled(tail_share: float) -> Distribution:
    """The same for one share of wide shots, read of a table.

    Parameters
    ----------
    tail_share : float
        Of all patterns that it will be asked about; what it is asked with beside ``t`` is not looked at.

    Returns
    -------
    callable
        See :data:`Distribution`; within 1e-11 of what :func:`distribution` gives, in a third of the time.

    Notes
    -----
    In each cell the polynomial of the third degree that has the distribution's values and slopes at both ends. Of a value it
    reads the same whatever others it is asked about beside.

    Source: own rule. Checked: tests/property/test_strokes.py
    """
    parts = _cells(tail_share)

    def read(t: Floats, _: Floats) -> Floats:
        found = t.reshape(-1)
        for start in range(0, found.size, _AT_ONCE):
            found[start : start + _AT_ONCE] = _read(found[start : start + _AT_ONCE], *parts)
        return found.reshape(t.shape)

    return read


def _read(t: Floats, level: Floats, slope: Floats, square: Floats, cube: Floats) -> Floats:
    place = np.add(t, REACH)
    place *= STEPS
    np.clip(place, 0.0, level.size - 1.0, out=place)
    cell = place.astype(np.intp)
    place -= cell
    found = cube.take(cell)
    for part in (square, slope, level):
        found *= place
        found += part.take(cell)
    return found


@lru_cache(maxsize=4)
def _cells(tail_share: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Coefficients of each cell's polynomial, by power of the share of the cell that lies below."""
    at = np.arange(-REACH * STEPS, REACH * STEPS + 1) / STEPS
    value = distribution(at.copy(), np.array(tail_share))
    narrow, wide = (np.exp(-((at / by) ** 2) / 2.0) / (by * np.sqrt(2.0 * np.pi)) for by in (1.0, TAIL_FACTOR))
    rise = ((1.0 - tail_share) * narrow + tail_share * wide) / STEPS
    gained, begin, end = np.diff(value), rise[:-1], rise[1:]
    return value[:-1], begin, 3.0 * gained - 2.0 * begin - end, begin + end - 2.0 * gained
