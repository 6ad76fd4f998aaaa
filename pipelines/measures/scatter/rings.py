"""What the shots of a session say of the width of its pattern and of the share of them that makes its tails."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from pipelines.measures.scatter.tails import TAIL_FACTOR
from pipelines.measures.scatter.wild import WOBBLE

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

FAR_AT = 1.5
"""Robust standard deviations of its session beyond which the distance of a shot to a side is kept."""

MAD_TO_SD = 1.4826022185056018
"""Standard deviation over the median absolute deviation of a normal distribution: one over its quantile of 3/4."""

EDGES: Floats = np.array([0.0, 1.0 / MAD_TO_SD, FAR_AT, 2.0, 2.5, 3.2, 4.0, 6.0, np.inf])
"""Of the rings in which shots are counted, about the session's middle [its robust standard deviations]: half of them lie
in the first. Own choice; whole distances tell no more (own simulation)."""

SHARES: Floats = np.array([0.01, 0.02, 0.03, 0.045, 0.065, 0.10, 0.15, 0.25])
"""Shares of shots in the wide part that are weighed: so near to each other that a year of shots finds one that fits. Where none
does, a rise from the next smaller one at a run of chance fits better."""

WIDTH_STEP, WIDTH_REACH, USUAL_REACH = 0.12, 10, 13
"""Logarithms of widths are weighed on multiples of this, so many to either side of the session's own: its true width, and what is
usual for the player."""

ODD_DAYS, ODD_WOBBLE = 0.1, 0.4
"""Share of sessions whose pattern is wider or narrower than usual by so much [logarithm]: wind, a sore back. Own choice."""

_FINE = 0.01
"""The session's own width is taken to so much [logarithm]."""


def _over_days() -> Floats:
    """Chance of each width of a session, (usual, width), by how many steps of :data:`WIDTH_STEP` they differ."""
    apart = WIDTH_STEP * (np.arange(-WIDTH_REACH, WIDTH_REACH + 1) - np.arange(-USUAL_REACH, USUAL_REACH + 1)[:, None])
    shares = ((1.0 - ODD_DAYS, WOBBLE), (ODD_DAYS, ODD_WOBBLE))
    density = sum(share * np.exp(-0.5 * (apart / sd) ** 2) / sd for share, sd in shares)
    return np.asarray(WIDTH_STEP / np.sqrt(2.0 * np.pi) * density)


_OVER_DAYS = _over_days()


def ring_counts(shots: Floats, mad: Floats, session: Integers, far: Floats) -> Floats:
    """How many shots of each session lie in each ring about its middle.

    Parameters
    ----------
    shots, mad : (n,) arrays
        Shots of each session, and the median of their distances to a side from its middle [m], above 0.
    session, far : (k,) arrays
        Of each shot beyond ``FAR_AT`` the number of its session, and its distance [m].

    Returns
    -------
    (n, 8) array
        Half of the shots in the first ring, by what a median is; what is not farther out in the second. No missing values.

    Notes
    -----
    Counting only. Source: own rule. Checked: tests/unit/test_rings.py
    """
    n_rings = EDGES.size - 1
    ring = np.clip(np.searchsorted(EDGES, far / (MAD_TO_SD * mad[session]), side="right") - 1, 2, n_rings - 1)
    counts = np.bincount(session * n_rings + ring, minlength=shots.size * n_rings).reshape(shots.size, n_rings).astype(np.float64)
    counts[:, 0] = shots / 2.0
    counts[:, 1] = np.maximum(shots / 2.0 - counts.sum(axis=1) + counts[:, 0], 0.0)
    return np.asarray(counts)


def log_likelihoods(counts: Floats, mad: Floats) -> tuple[Integers, Floats]:
    """How likely the shots of each session are, by what width is usual and what share of shots makes the tails.

    Parameters
    ----------
    counts : (n, 8) array
        From :func:`ring_counts`.
    mad : (n,) array
        Median distance from the middle [m], above 0.

    Returns
    -------
    (n,) array of int, (n, 27, 8) array
        The multiple of ``WIDTH_STEP`` nearest to the logarithm of the session's own robust standard deviation [m]; and natural
        logarithms, but for a number that is the same for all, by usual width (13 steps to either side of it) and
        :data:`SHARES`. No missing values are taken.

    Notes
    -----
    Two normal parts about one middle, the wide one four times as wide as the narrow one, counted by ring. The narrow width of a
    session differs from what is usual by a normal logarithm of standard deviation .12, on one day in ten of .4; averaged over.

    Source: [Tukey1960] (two normal parts)
    Checked: tests/unit/test_rings.py (against densities that are added up by another way)
    """
    log_sd = np.log(MAD_TO_SD * mad)
    place = np.rint(log_sd / WIDTH_STEP).astype(np.int64)
    off = np.rint((WIDTH_STEP * place - log_sd) / _FINE).astype(np.int64)
    by_width = np.empty((mad.size, 2 * WIDTH_REACH + 1, SHARES.size))
    for one in np.unique(off):
        mine, logs = np.flatnonzero(off == one), _ring_logs(int(one))
        # written out: the last digit of a product of matrices depends on how many sessions stand beside
        by_width[mine] = sum(counts[mine, ring, None, None] * logs[ring] for ring in range(EDGES.size - 1))
    largest = by_width.max(axis=1, keepdims=True)
    return place, np.asarray(np.log(np.matmul(_OVER_DAYS, np.exp(by_width - largest))) + largest)


@cache
def _ring_logs(off: int) -> Floats:
    """Logarithm of the chance of each ring, (rings, widths, shares); widths in steps from one that is ``off`` fine ones away."""
    width = np.exp(WIDTH_STEP * np.arange(-WIDTH_REACH, WIDTH_REACH + 1) + _FINE * float(off))[:, None]
    narrow, wide = (np.diff(2.0 * ndtr(EDGES / (width * factor)) - 1.0, axis=1) for factor in (1.0, TAIL_FACTOR))
    chance = (1.0 - SHARES) * narrow.T[:, :, None] + SHARES * wide.T[:, :, None]
    return np.asarray(np.log(np.maximum(chance, 1e-12)))
