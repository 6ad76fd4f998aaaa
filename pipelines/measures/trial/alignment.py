"""The cheapest way to lay two sequences side by side, each kept in its own order."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Costs = NDArray[np.float64]


def alignment_costs(apart: Costs, alone: float) -> Costs:
    """What the cheapest alignment of every two beginnings of two sequences costs.

    Parameters
    ----------
    apart : ndarray of shape (n, m)
        What it costs to lay a place of the first beside a place of the second; no NaN.
    alone : float
        What it costs to leave a place alone.

    Returns
    -------
    ndarray of shape (n + 1, m + 1)
        The last value is the cost of the whole.

    Notes
    -----
    The dynamic programme for two sequences of [Needleman1970].
    Checked: tests/unit/test_alignment.py
    """
    rows, columns = apart.shape
    cost = np.empty((rows + 1, columns + 1))
    cost[0], cost[:, 0] = alone * np.arange(columns + 1), alone * np.arange(rows + 1)
    for row in range(1, rows + 1):
        joined = cost[row - 1, :-1] + apart[row - 1]
        best = np.minimum(joined, cost[row - 1, 1:] + alone)
        steps = np.concatenate([[cost[row, 0]], best]) - alone * np.arange(columns + 1)
        cost[row] = np.minimum.accumulate(steps) + alone * np.arange(columns + 1)
    return cost


def aligned_places(cost: Costs, apart: Costs, alone: float) -> list[tuple[int, int]]:
    """Places that lie side by side in the cheapest alignment, rising; parameters as in :func:`alignment_costs`.

    Checked: tests/unit/test_alignment.py
    """
    row, column = apart.shape
    pairs = []
    while row and column:
        if np.isclose(cost[row, column], cost[row - 1, column - 1] + apart[row - 1, column - 1]):
            row, column = row - 1, column - 1
            pairs.append((row, column))
        elif np.isclose(cost[row, column], cost[row - 1, column] + alone):
            row -= 1
        else:
            column -= 1
    return pairs[::-1]
