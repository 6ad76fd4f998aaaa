"""Average run lengths of charts, by integral equation: how long until a false alarm, and until a real shift is found."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]


def _density(z: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi))


def one_sided_run_length(slack: float, limit: float, shift: float = 0.0, start: float = 0.0, n_nodes: int = 80) -> float:
    """Average number of values until an upper cumulative sum passes its limit; values are normal with SD 1.

    Parameters
    ----------
    slack, limit : float
        Allowance k and limit h, in standard deviations.
    shift : float
        Mean of the values less the target, in standard deviations.
    start : float
        Head start of the sum.
    n_nodes : int
        Gauss-Legendre nodes.

    Notes
    -----
    ``L(z) = 1 + L(0) Phi(k - z - shift) + integral over 0..h of L(y) phi(y + k - z - shift) dy`` by Nystrom's method.

    Source: [BrookEvans1972], [LucasCrosier1982], [Vance1986]
    Checked: tests/published/test_run_lengths.py
    """
    nodes, weights = np.polynomial.legendre.leggauss(n_nodes)
    points = np.concatenate(([0.0], (nodes + 1.0) * limit / 2.0))
    mass = weights * limit / 2.0
    kernel = np.empty((n_nodes + 1, n_nodes + 1))
    kernel[:, 0] = ndtr(slack - points - shift)
    kernel[:, 1:] = mass * _density(points[None, 1:] + slack - points[:, None] - shift)
    lengths = np.linalg.solve(np.eye(n_nodes + 1) - kernel, np.ones(n_nodes + 1))
    at_start = mass * _density(points[1:] + slack - start - shift)
    return float(1.0 + lengths[0] * ndtr(slack - start - shift) + at_start @ lengths[1:])


def two_sided_run_length(slack: float, limit: float, shift: float = 0.0, start: float = 0.0) -> float:
    """Average number of values until either of two cumulative sums passes its limit; values are normal with SD 1.

    Notes
    -----
    Without head start ``1 / L = 1 / L_up + 1 / L_down``; with head start s on both sides, L_up and L_down from rest and with it:
    ``(L_up(s) L_down(0) + L_down(s) L_up(0) - L_up(0) L_down(0)) / (L_up(0) + L_down(0))``.

    Source: [LucasCrosier1982]
    Checked: tests/published/test_run_lengths.py
    """
    up, down = one_sided_run_length(slack, limit, shift), one_sided_run_length(slack, limit, -shift)
    up_start, down_start = one_sided_run_length(slack, limit, shift, start), one_sided_run_length(slack, limit, -shift, start)
    return (up_start * down + down_start * up - up * down) / (up + down)


def exponential_run_length(weight: float, width: float, shift: float = 0.0, n_nodes: int = 120) -> float:
    """Average number of values until an exponentially weighted mean leaves its steady-state limits; normal, SD 1.

    Parameters
    ----------
    weight : float
        Of the newest value, 0 to 1.
    width : float
        Limits in standard deviations of the mean.
    shift : float
        Mean of the values less the target, in standard deviations.
    n_nodes : int
        Gauss-Legendre nodes.

    Notes
    -----
    ``L(z) = 1 + 1/w integral over -c..c of L(y) phi((y - (1 - w) z)/w - shift) dy``, ``c = width sqrt(w/(2 - w))``.

    Source: [LucasSaccucci1990]
    Checked: tests/published/test_run_lengths.py
    """
    nodes, weights = np.polynomial.legendre.leggauss(n_nodes)
    half = width * np.sqrt(weight / (2.0 - weight))
    points, mass = nodes * half, weights * half

    def row(z: Floats) -> Floats:
        return np.asarray(mass / weight * _density((points[None, :] - (1.0 - weight) * z[:, None]) / weight - shift))

    lengths = np.linalg.solve(np.eye(n_nodes) - row(points), np.ones(n_nodes))
    return float(1.0 + (row(np.zeros(1)) @ lengths)[0])
