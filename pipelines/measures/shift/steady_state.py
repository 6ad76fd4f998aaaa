"""How likely a chart's sum is that large when nothing has happened: the p-value of a chart on any night."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.tables import published_table

Floats = NDArray[np.float64]

SLACK, STEEP_SLACK, CLIP = 0.5, 1.0, 2.0
"""Settings of the charts that the tables hold for."""


@cache
def _table(name: str) -> tuple[Floats, Floats, Floats]:
    """Correlations, limits, and the logarithms of the chances at both."""
    table = published_table(name)
    correlations = np.sort(table["correlation"].unique().to_numpy())
    limits = np.sort(table["limit"].unique().to_numpy())
    log_p = np.log(table.sort("correlation", "limit")["p_one_sided"].to_numpy()).reshape(correlations.size, limits.size)
    return correlations, limits, log_p


def chart_p_value(sums: Floats, correlation: float | Floats) -> Floats:
    """Chance that one side of a chart is at least so large on a night, when nothing has happened.

    Parameters
    ----------
    sums : array
        Upper or lower sums, at least 0.
    correlation : float or array of the same shape
        Lag-1 autocorrelation of the squad's scores; cut to 0..0.5.

    Returns
    -------
    array
        0 to 1; 1 at a sum of 0. Beyond the table the logarithm falls on in a straight line.

    Source: own simulation with 8 million draws for each correlation (a first-order autoregression with SD 1, cut to -2..2)
    Checked: tests/unit/test_steady_state.py, against the two-sided figures of another simulation
    """
    return _tail("chart_tail", sums, correlation)


def steep_p_value(sums: Floats, correlation: float | Floats) -> Floats:
    """The same of a steep sum, whose allowance is twice as large: of a large shift it says as much after half as many sessions.

    Source: own simulation, as for :func:`chart_p_value`
    Checked: tests/unit/test_steady_state.py
    """
    return _tail("chart_tail_steep", sums, correlation)


def _tail(name: str, sums: Floats, correlation: float | Floats) -> Floats:
    correlations, limits, log_p = _table(name)
    sums = np.asarray(sums, dtype=np.float64)
    row, down = _cell(correlations, np.broadcast_to(np.clip(correlation, 0.0, correlations[-1]), sums.shape))
    column, along = _cell(limits, sums)
    less, more = (log_p[row + one, column] * (1.0 - along) + log_p[row + one, column + 1] * along for one in (0, 1))
    return np.where(sums > 0, np.exp(np.minimum(less * (1.0 - down) + more * down, 0.0)), 1.0)


def _cell(grid: Floats, at: Floats) -> tuple[NDArray[np.intp], Floats]:
    """The cell of a grid that holds each value, and how far along it lies there; beyond the grid, in the cell at its end."""
    cell = np.clip(np.searchsorted(grid, at, side="right") - 1, 0, grid.size - 2)
    return cell, (at - grid[cell]) / (grid[cell + 1] - grid[cell])


SHARE_IN_SCORES = 0.67
"""Autocorrelation of the scores of a self-starting chart over that of the form behind them (own simulation, at 0, .2 and .4)."""
