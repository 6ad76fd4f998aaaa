"""Dating a shift after a chart has found it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FEWEST_SIDE = 3
"""Sessions on either side of a change that is looked for."""


def change_points(values: Floats, sd: float) -> list[int]:
    """Indices at which a new level begins, by the cheapest cut into parts with quadratic cost.

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
    Cost: sum of squares about each part's mean, of values divided by ``sd``; penalty ``3 ln n`` for each part. Found exactly by
    dynamic programming: pruning only makes it faster on long series, and these have sixty values at most.

    Source: [Killick2012]
    Checked: tests/published/test_nile.py (break of 1898)
    """
    if values.size < 2 * FEWEST_SIDE:
        return []
    return _cheapest_cuts((values - values.mean()) / sd, penalty=3.0 * float(np.log(values.size)))


def _cheapest_cuts(scaled: Floats, penalty: float) -> list[int]:
    """Where to cut a series into parts of at least three values for the least sum of squares and penalties, in n^2 steps."""
    n = scaled.size
    sums, squares = (np.concatenate([[0.0], np.cumsum(part)]) for part in (scaled, scaled**2))
    place = np.arange(n + 1)
    length = np.maximum(place[:, None] - place, 1)  # of the part that ends (row) and begins there
    within = squares[:, None] - squares - (sums[:, None] - sums) ** 2 / length
    least, cut = np.full(n + 1, np.inf), np.zeros(n + 1, dtype=np.int64)
    least[0] = -penalty
    for end in range(FEWEST_SIDE, n + 1):
        total = least[: end - FEWEST_SIDE + 1] + within[end, : end - FEWEST_SIDE + 1] + penalty
        cut[end] = total.argmin()
        least[end] = total[cut[end]]
    found = []
    end = int(cut[n])
    while end:
        found.append(end)
        end = int(cut[end])
    return found[::-1]


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
