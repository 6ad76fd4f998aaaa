"""Load of the last days and stiffness of today inside a player: goes with, never causes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import BSpline

from pipelines.measures.load.grid import Floats, Readings, Truths
from pipelines.measures.load.windows import days_known

if TYPE_CHECKING:
    from numpy.typing import NDArray

LAG_DAYS = 14
BASIS_SIZE = 5
AT_LEAST_PAIRS = 40
AT_LEAST_LOAD_DAYS = 10
"""No association below 40 paired days; a pair needs 10 known load days among its 15. Own choices."""


@dataclass(frozen=True)
class Association:
    """How stiffness goes with the load of the days before.

    Attributes
    ----------
    total : float or None
        Points of the rating for one unit of daily load held through all lags.
    low, high : float or None
        95 % interval, standard error clustered by player; None for one player.
    p_value : float or None
        Circular shift of the load inside players, two-sided.
    lag_weights : tuple of float
        Points for one unit of load 0, 1, ... 14 days before; empty when not computed.
    n_pairs, n_players : int
    reason : str
        ``""`` or ``too_few_pairs``, ``no_spread``.
    """

    total: float | None
    low: float | None
    high: float | None
    p_value: float | None
    lag_weights: tuple[float, ...]
    n_pairs: int
    n_players: int
    reason: str


def lag_basis(n_lags: int = LAG_DAYS, size: int = BASIS_SIZE) -> Floats:
    """Cubic B-spline basis over lags 0 to ``n_lags``, shape (n_lags + 1, size): lag weights change smoothly.

    Notes
    -----
    Clamped knots, ``size - 4`` interior ones evenly spaced; the columns sum to 1 at every lag.
    """
    inner = np.linspace(0, n_lags, size - 2)[1:-1]
    knots = np.concatenate([[0.0] * 4, inner, [float(n_lags)] * 4])
    design = BSpline.design_matrix(np.arange(n_lags + 1, dtype=np.float64), knots, 3)
    return np.asarray(design.toarray(), dtype=np.float64)


def lagged_association(load: Readings, rating: Readings, rng: np.random.Generator, n_shifts: int = 199) -> Association:
    """Distributed-lag regression of a rating on the load of the last 15 days, inside players, guarded by a circular shift.

    Parameters
    ----------
    load, rating : Readings, shape (players, days)
        A pair is a day with an answer and at least 10 known load days among that day and the 14 before; unknown load days
        inside it take the mean of the known ones of the window.
    rng : numpy.random.Generator
    n_shifts : int
        Random circular shifts behind the p-value.

    Returns
    -------
    Association
        Without numbers below 40 pairs, or when nothing varies.

    Notes
    -----
    ``y_it - mean_i = sum_k beta_k (z_itk - mean_i)`` with ``z_itk = sum_lag B_k(lag) load_(t-lag)``; total effect ``sum_lag B
    beta``. Clustered sandwich errors over players (two or more). The p-value compares the total's size with those after
    shifting each player's load by a random number of days around its calendar: this keeps both autocorrelations, which the
    usual p-value ignores.

    Source: derived here; within-player correlation after [BlandAltman1995]; distributed lag for load: [BacheMathiesen2024]
    Checked: tests/property/test_association.py
    """
    filled, usable = _filled(load)
    paired = rating.known & usable
    paired[:, :LAG_DAYS] = False
    n_pairs, players = int(paired.sum()), np.flatnonzero(paired.sum(axis=1) >= 2)
    if n_pairs < AT_LEAST_PAIRS:
        return Association(None, None, None, None, (), n_pairs, players.size, "too_few_pairs")
    basis = lag_basis()
    fit = _fit(filled, rating.value, paired, basis)
    if fit is None:
        return Association(None, None, None, None, (), n_pairs, players.size, "no_spread")
    beta, error = fit
    total = float(basis.sum(axis=0) @ beta)
    weights = tuple(float(weight) for weight in basis @ beta)
    extreme = sum(abs(_shifted_total(filled, rating.value, paired, basis, rng)) >= abs(total) for _ in range(n_shifts))
    p_value = (1 + extreme) / (1 + n_shifts)
    half = 1.959963984540054 * error if error is not None else None
    low, high = (total - half, total + half) if half is not None else (None, None)
    return Association(total, low, high, p_value, weights, n_pairs, players.size, "")


def _filled(load: Readings) -> tuple[Floats, Truths]:
    window = LAG_DAYS + 1
    present = days_known(load.known, window)
    total = np.cumsum(load.value, axis=1)
    total[:, window:] -= np.cumsum(load.value, axis=1)[:, :-window]
    mean = total / np.maximum(present, 1)
    return np.where(load.known, load.value, mean), present >= AT_LEAST_LOAD_DAYS


def _design(load: Floats, basis: Floats) -> NDArray[np.float64]:
    padded = np.concatenate([np.zeros((load.shape[0], LAG_DAYS)), load], axis=1)
    windows = np.lib.stride_tricks.sliding_window_view(padded, LAG_DAYS + 1, axis=1)[:, :, ::-1]
    return np.asarray(windows @ basis)


def _fit(load: Floats, rating: Floats, paired: Truths, basis: Floats) -> tuple[Floats, float | None] | None:
    row, day = np.nonzero(paired)
    x, y = _within(_design(load, basis)[row, day], row), _within(rating[row, day][:, None], row)[:, 0]
    gram = x.T @ x
    if np.linalg.matrix_rank(gram) < gram.shape[0] or not y.any():
        return None
    inverse = np.linalg.inv(gram)
    beta = inverse @ x.T @ y
    clusters = np.unique(row)
    if clusters.size < 2:
        return beta, None
    residual = y - x @ beta
    scores = np.array([x[row == cluster].T @ residual[row == cluster] for cluster in clusters])
    small = clusters.size / (clusters.size - 1)
    covariance = small * inverse @ (scores.T @ scores) @ inverse
    along = basis.sum(axis=0)
    return beta, float(np.sqrt(along @ covariance @ along))


def _within(values: Floats, row: NDArray[np.int64]) -> Floats:
    _, place = np.unique(row, return_inverse=True)
    count = np.bincount(place)
    means = np.column_stack([np.bincount(place, column) / count for column in values.T])
    return np.asarray(values - means[place])


def _shifted_total(load: Floats, rating: Floats, paired: Truths, basis: Floats, rng: np.random.Generator) -> float:
    n_days = load.shape[1]
    shift = rng.integers(LAG_DAYS + 1, max(n_days - LAG_DAYS, LAG_DAYS + 2), size=load.shape[0])
    moved = np.take_along_axis(load, (np.arange(n_days)[None, :] - shift[:, None]) % n_days, axis=1)
    fit = _fit(moved, rating, paired, basis)
    return float(basis.sum(axis=0) @ fit[0]) if fit is not None else 0.0
