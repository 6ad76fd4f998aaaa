"""Dating a shift after a chart has found it."""

from __future__ import annotations

import itertools

import numpy as np
import ruptures
from numpy.typing import NDArray
from ruptures.base import BaseCost

Floats = NDArray[np.float64]

FEWEST_SIDE = 3
"""Sessions on either side of a change that is looked for."""


class _SumOfSquares(BaseCost):  # type: ignore[misc] # the library ships no types
    """Quadratic cost of a part in constant time: running sums instead of a variance for each part."""

    model = "running_l2"
    min_size = FEWEST_SIDE

    def fit(self, signal: Floats) -> _SumOfSquares:
        """Keep running sums of the values and their squares."""
        self.signal = signal
        values = signal[:, 0].tolist()
        self._sums = [0.0, *itertools.accumulate(values)]
        self._squares = [0.0, *itertools.accumulate(value * value for value in values)]
        return self

    def error(self, start: int, end: int) -> float:
        """Sum of squares about the mean of the part."""
        total = self._sums[end] - self._sums[start]
        return float(self._squares[end] - self._squares[start] - total * total / (end - start))


def change_points(values: Floats, sd: float) -> list[int]:
    """Indices at which a new level begins, found by PELT with quadratic cost.

    Parameters
    ----------
    values : (n,) array
        Not NaN.
    sd : float
        Standard deviation of a value about its level, in the same unit.

    Returns
    -------
    list of int
        Ascending; empty when there is no change, or fewer than six values.

    Notes
    -----
    Cost: sum of squares about each part's mean, of values divided by ``sd``; penalty ``3 ln n`` for each part.

    Source: [Killick2012]
    Checked: tests/published/test_nile.py (break of 1898)
    """
    if values.size < 2 * FEWEST_SIDE:
        return []
    scaled = (values - values.mean()) / sd
    search = ruptures.Pelt(custom_cost=_SumOfSquares(), min_size=FEWEST_SIDE, jump=1).fit(scaled[:, None])
    return [int(index) for index in search.predict(pen=3.0 * np.log(values.size))[:-1]]


def shift_began_at(values: Floats, sd: float, *, upward: bool, since: int) -> int:
    """Index of the first session after the shift that a chart has found at the last of these values.

    Parameters
    ----------
    values : (n,) array
        Sessions since the chart (re)started, to the one that raised the alarm.
    sd : float
        Standard deviation of a session value.
    upward : bool
        Direction of the alarm.
    since : int
        Index at which the chart's sum last left 0: the answer when no change in that direction is found.

    Source: [Killick2012]
    Checked: tests/unit/test_self_starting.py
    """
    points = change_points(values, sd)
    for place in range(len(points) - 1, -1, -1):
        begin = points[place - 1] if place else 0
        before, after = values[begin : points[place]].mean(), values[points[place] :].mean()
        if (after > before) == upward:
            return points[place]
    return since
