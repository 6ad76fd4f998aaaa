"""Share of directions left of a border, read of tables: it is asked for so often that two normal distributions are too dear."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache

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

Cells = tuple[Floats, Floats, Floats, Floats]
"""Of each cell the coefficients of a polynomial in the share of the cell that lies below, by power."""


def exact_distribution(t: Floats, tail_share: Floats) -> Floats:
    """Share of directions below t narrow widths; ``tail_share`` broadcasts."""
    narrow = ndtr(t)
    below: Floats = narrow + tail_share * (ndtr(t / TAIL_FACTOR) - narrow)
    return below


def distribution(t: Floats, tail_share: Floats) -> Floats:
    """The same, read of tables.

    Parameters
    ----------
    t : numpy.ndarray
        Borders [narrow widths], patterns first: shape (p, ...). Used up.
    tail_share : numpy.ndarray
        Of each pattern: shape (p, 1, ...) with as many axes as ``t``.

    Returns
    -------
    numpy.ndarray
        As ``t``; within 1e-11 of :func:`exact_distribution`, in a third of the time.

    Notes
    -----
    In each cell the polynomial of the third degree that has the distribution's values and slopes at both ends. Of a value it
    reads the same whatever others it is asked about beside.

    Source: own rule. Checked: tests/property/test_strokes.py
    """
    narrow, wider = _narrow_and_wider()
    size = max(1, _AT_ONCE // max(1, t[0].size)) if t.size else 1
    for start in range(0, t.shape[0], size):
        part, share = t[start : start + size], tail_share[start : start + size]
        place, cell = _places(part)
        below = _read(place, cell, narrow)
        if share.any():
            below += _read(place, cell, wider) * share
        part[...] = below
    return t


def tabled(tail_share: float) -> Distribution:
    """The same for one share of wide shots, in half that time again.

    Parameters
    ----------
    tail_share : float
        Of all patterns that it will be asked about; what it is asked with beside ``t`` is not looked at.

    Returns
    -------
    callable
        See :data:`Distribution`; within 1e-11 of what :func:`exact_distribution` gives.

    Notes
    -----
    Source: own rule. Checked: tests/property/test_strokes.py
    """
    cells = _cells(tail_share)

    def read(t: Floats, _: Floats) -> Floats:
        found = t.reshape(-1)
        for start in range(0, found.size, _AT_ONCE):
            found[start : start + _AT_ONCE] = _read(*_places(found[start : start + _AT_ONCE]), cells)
        return found.reshape(t.shape)

    return read


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


@lru_cache(maxsize=4)
def _cells(tail_share: float) -> Cells:
    at = np.arange(-REACH * STEPS, REACH * STEPS + 1) / STEPS
    value = exact_distribution(at, np.array(tail_share))
    narrow, wide = (np.exp(-((at / by) ** 2) / 2.0) / (by * np.sqrt(2.0 * np.pi)) for by in (1.0, TAIL_FACTOR))
    rise = ((1.0 - tail_share) * narrow + tail_share * wide) / STEPS
    gained, begin, end = np.diff(value), rise[:-1], rise[1:]
    return value[:-1], begin, 3.0 * gained - 2.0 * begin - end, begin + end - 2.0 * gained


@cache
def _narrow_and_wider() -> tuple[Cells, Cells]:
    """What narrow shots have left of a border, and what wide ones have there beside."""
    narrow = _cells(0.0)
    level, slope, square, cube = (wide - one for wide, one in zip(_cells(1.0), narrow, strict=True))
    return narrow, (level, slope, square, cube)
