"""Load of the last days and stiffness of today inside a player: goes with, never causes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from pipelines.measures.load.grid import Floats, Readings, Truths
from pipelines.measures.load.windows import days_known

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
    lag = np.arange(n_lags + 1, dtype=np.float64)[:, None]
    cell = np.clip(np.searchsorted(knots, lag, side="right") - 1, 3, size - 1)  # the last lag lies at the end of the last cell
    basis = (cell == np.arange(knots.size - 1)).astype(np.float64)
    for degree in (1, 2, 3):
        span = knots[degree:] - knots[:-degree]
        rise = np.divide(lag - knots[:-degree], span, out=np.zeros((n_lags + 1, span.size)), where=span > 0)
        fall = np.where(span > 0, 1.0 - rise, 0.0)
        basis = rise[:, :-1] * basis[:, :-1] + fall[:, 1:] * basis[:, 1:]
    return np.asarray(basis)


def lagged_association(load: Readings, rating: Readings, rng: np.random.Generator, n_shifts: int = 99) -> Association:
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
    paired[paired.sum(axis=1) < 2] = False
    n_pairs, n_players = int(paired.sum()), int(paired.any(axis=1).sum())
    if n_pairs < AT_LEAST_PAIRS:
        return Association(None, None, None, None, (), n_pairs, n_players, "too_few_pairs")
    basis = lag_basis()
    design, inner = _circular_design(filled, basis), _inner(rating.value, paired)
    beta = _coefficients(design, inner, paired)
    if beta is None:
        return Association(None, None, None, None, (), n_pairs, n_players, "no_spread")
    along = basis.sum(axis=0)
    total, weights = float(along @ beta), tuple(float(weight) for weight in basis @ beta)
    extreme = sum(abs(_shifted_total(design, inner, paired, along, rng)) >= abs(total) for _ in range(n_shifts))
    low, high = _clustered_interval(design, inner, paired, beta, along) if n_players >= 2 else (None, None)
    return Association(total, low, high, (1 + extreme) / (1 + n_shifts), weights, n_pairs, n_players, "")


def _filled(load: Readings) -> tuple[Floats, Truths]:
    window = LAG_DAYS + 1
    present = days_known(load.known, window)
    total = np.cumsum(load.value, axis=1)
    total[:, window:] -= np.cumsum(load.value, axis=1)[:, :-window]
    mean = total / np.maximum(present, 1)
    return np.where(load.known, load.value, mean), present >= AT_LEAST_LOAD_DAYS


def _circular_design(load: Floats, basis: Floats) -> Floats:
    """Smoothed lags of the load, shape (players, days, basis); the first days look round to the last and are never paired."""
    padded = np.concatenate([load[:, -LAG_DAYS:], load], axis=1)
    windows = np.lib.stride_tricks.sliding_window_view(padded, LAG_DAYS + 1, axis=1)[:, :, ::-1]
    design: Floats = windows @ basis
    return design


def _inner(rating: Floats, paired: Truths) -> Floats:
    """Ratings with each player's own mean over the pairs removed; 0 outside the pairs."""
    mean = (rating * paired).sum(axis=1) / np.maximum(paired.sum(axis=1), 1)
    return np.where(paired, rating - mean[:, None], 0.0)


def _normal_matrix(design: Floats, paired: Truths) -> Floats:
    size = design.shape[2]
    kept = design * paired[:, :, None]
    sums, count = kept.sum(axis=1), np.maximum(paired.sum(axis=1), 1)
    matrix: Floats = kept.reshape(-1, size).T @ design.reshape(-1, size) - (sums / count[:, None]).T @ sums
    return matrix


def _coefficients(design: Floats, inner: Floats, paired: Truths) -> Floats | None:
    matrix = _normal_matrix(design, paired)
    if np.linalg.matrix_rank(matrix, tol=1e-9 * max(float(np.trace(matrix)), 1e-300)) < matrix.shape[0] or not inner.any():
        return None
    beta: Floats = np.linalg.solve(matrix, np.einsum("pdk,pd->k", design, inner))
    return beta


def _clustered_interval(design: Floats, inner: Floats, paired: Truths, beta: Floats, along: Floats) -> tuple[float, float]:
    count = np.maximum(paired.sum(axis=1), 1)[:, None]
    means = (design * paired[:, :, None]).sum(axis=1) / count
    centred = np.where(paired[:, :, None], design - means[:, None, :], 0.0)
    residual = np.where(paired, inner - centred @ beta, 0.0)
    scores = np.einsum("pdk,pd->pk", centred, residual)
    inverse = np.linalg.inv(_normal_matrix(design, paired))
    clusters = int(paired.any(axis=1).sum())
    covariance = clusters / (clusters - 1) * inverse @ (scores.T @ scores) @ inverse
    half = float(stdtrit(clusters - 1, 0.975) * np.sqrt(along @ covariance @ along))
    total = float(along @ beta)
    return total - half, total + half


def _shifted_total(design: Floats, inner: Floats, paired: Truths, along: Floats, rng: np.random.Generator) -> float:
    n_players, n_days = inner.shape
    shift = rng.integers(LAG_DAYS + 1, max(n_days - LAG_DAYS, LAG_DAYS + 2), size=n_players)
    day = (np.arange(n_days)[None, :] - shift[:, None]) % n_days
    beta = _coefficients(design[np.arange(n_players)[:, None], day], inner, paired)
    return float(along @ beta) if beta is not None else 0.0
