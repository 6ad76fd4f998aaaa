"""Share of directions left of a border, read of tables: it is asked for so often that two normal distributions are too dear."""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from pipelines.measures.scatter.tails import TAIL_FACTOR

Floats = NDArray[np.float64]
STEPS, REACH = 128, 40
"""Cells of the table for a narrow width, and how far it goes to either side: beyond that nothing but 0 and 1 is left to say."""

_AT_ONCE = 16384
"""Values that are read at a time stay in the processor's cache."""

_WORTH_A_TABLE = 4096
"""Values of a pattern from which on a table of its own costs less than to read one of narrow and one of wide shots."""

Cells = tuple[Floats, Floats, Floats, Floats]
"""Of each cell the coefficients of a polynomial in the share of the cell that lies below, by power."""


def distribution(t: Floats, tail_share: Floats) -> Floats:
    """Share of directions below t narrow widths, read of tables.

    Parameters
    ----------
    t : numpy.ndarray
        Borders [narrow widths], patterns first: shape (p, ...). Used up.
    tail_share : numpy.ndarray
        Of each pattern: shape (p, 1, ...) with as many axes as ``t``.

    Returns
    -------
    numpy.ndarray
        As ``t``; within 1e-11 of the two normal distributions themselves, in a third of their time.

    Notes
    -----
    In each cell the polynomial of the third degree that has the distribution's values and slopes at both ends. Of a pattern it
    reads the same whatever others it is asked about beside.

    Source: own rule. Checked: tests/property/test_strokes.py
    """
    if not t.size:
        return t
    by_pattern = t.reshape(t.shape[0], -1)
    if by_pattern.shape[1] < _WORTH_A_TABLE:
        size = max(1, _AT_ONCE // by_pattern.shape[1])
        for start in range(0, t.shape[0], size):
            part = by_pattern[start : start + size]
            part[...] = _of_both(part, tail_share[start : start + size].reshape(-1, 1))
        return t
    for values, share in zip(by_pattern, tail_share.ravel().tolist(), strict=True):
        for start in range(0, values.size, _AT_ONCE):
            values[start : start + _AT_ONCE] = _read(*_places(values[start : start + _AT_ONCE]), _cells(share))
    return t


def _of_both(t: Floats, tail_share: Floats) -> Floats:
    """Of many patterns with few values each: a table of each would cost more than to read that of either part."""
    narrow, wider = _narrow_and_wider()
    place, cell = _places(t)
    below = _read(place, cell, narrow)
    if tail_share.any():
        below += _read(place, cell, wider) * tail_share
    return below


def _places(t: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """Share of its cell that lies below each value, and which cell that is."""
    place = np.add(t, REACH)
    place *= STEPS
    np.clip(place, 0.0, 2.0 * REACH * STEPS - 1.0, out=place)
    cell = place.astype(np.intp)
    place -= cell
    return place, cell


def _read(place: Floats, cell: NDArray[np.intp], cells: Cells) -> Floats:
    level, slope, square, cube = cells
    found: Floats = cube.take(cell)
    for part in (square, slope, level):
        found *= place
        found += part.take(cell)
    return found


@lru_cache(maxsize=32)
def _cells(tail_share: float) -> Cells:
    """For one share of wide shots; those of a block of players are asked for again with each course."""
    level, slope, square, cube = (one + more * tail_share for one, more in zip(*_narrow_and_wider(), strict=True))
    return level, slope, square, cube


@cache
def _narrow_and_wider() -> tuple[Cells, Cells]:
    """What narrow shots have left of a border, and what wide ones have there beside."""
    narrow, wide = (_normal_cells(width) for width in (1.0, TAIL_FACTOR))
    level, slope, square, cube = (wider - one for wider, one in zip(wide, narrow, strict=True))
    return narrow, (level, slope, square, cube)


def _normal_cells(width: float) -> Cells:
    at = np.arange(-REACH * STEPS, REACH * STEPS + 1) / (STEPS * width)
    value, rise = ndtr(at), np.exp(-(at**2) / 2.0) / (width * np.sqrt(2.0 * np.pi) * STEPS)
    gained, begin, end = np.diff(value), rise[:-1], rise[1:]
    return value[:-1], begin, 3.0 * gained - 2.0 * begin - end, begin + end - 2.0 * gained
