"""Where the shots of one arm land: the core of the pattern and the mishits beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.scatter import is_short_shot, shot_pattern

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

MISHIT_WEIGHT = 0.3
PRIOR_SHOTS = 12.0


@dataclass(frozen=True)
class PatternPosterior:
    """Normal-inverse-Wishart belief about the centre and the shape of a pattern in d dimensions.

    Attributes
    ----------
    centre : array (d,)
    n_centre : float
        Shots that the belief about the centre is worth.
    shape : array (d, d)
    n_shape : float
        Degrees of freedom of the shape.
    """

    centre: Floats
    n_centre: float
    shape: Floats
    n_shape: float

    def updated(self, shots: Floats) -> PatternPosterior:
        """The belief after ``shots``, shape (n, d), no missing values.

        Notes
        -----
        ``k_n = k_0 + n``, ``v_n = v_0 + n``, ``m_n = (k_0 m_0 + n xbar)/k_n``,
        ``S_n = S_0 + sum (x - xbar)(x - xbar)' + k_0 n/k_n (xbar - m_0)(xbar - m_0)'``.
        Source: [Murphy2007], [Gelman2013]. Checked: tests/published/test_trial_pattern.py
        """
        n = len(shots)
        if n == 0:
            return self
        mean, total = shots.mean(axis=0), self.n_centre + n
        inside = (shots - mean).T @ (shots - mean)
        gap = mean - self.centre
        between = self.n_centre * n / total * np.outer(gap, gap)
        centre = (self.n_centre * self.centre + n * mean) / total
        return PatternPosterior(centre, total, self.shape + inside + between, self.n_shape + n)

    def draws(self, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Centres, shape (count, d), and lower triangular factors of the covariance, shape (count, d, d).

        Notes
        -----
        Bartlett's decomposition of the Wishart distribution, for two dimensions or more.
        Source: [Gelman2013]. Checked: tests/property/test_trial_pattern.py
        """
        d = len(self.centre)
        lower = np.tril(rng.standard_normal((count, d, d)), -1)
        diagonal = np.sqrt(rng.chisquare(self.n_shape - np.arange(d), (count, d)))
        lower[:, np.arange(d), np.arange(d)] = diagonal
        precision_root = np.linalg.cholesky(np.linalg.inv(self.shape)) @ lower
        factors = np.linalg.cholesky(np.linalg.inv(precision_root @ np.swapaxes(precision_root, 1, 2)))
        noise = rng.standard_normal((count, d, 1))
        return self.centre + (factors @ noise)[..., 0] / np.sqrt(self.n_centre), factors

    @property
    def covariance(self) -> Floats:
        """Mean of the covariance."""
        return np.asarray(self.shape / (self.n_shape - len(self.centre) - 1))


def mishits(shots: Floats) -> Truths:
    """Which shots lie so far outside the core of their arm that they count as mishits.

    Parameters
    ----------
    shots : array (n, 2)
        Carry and offline [m] of one arm, sessions and drift taken out; no missing values.

    Returns
    -------
    bool array (n,)
        Carry below 80 % of the median, or weight under a bivariate t with 4 degrees of freedom below 0.3 (a shot in about
        140 of a normal pattern). With fewer than 8 shots only the first rule holds.

    Notes
    -----
    The t is fitted with 12 prior shots of the arm's own robust spread, so that a few shots cannot shrink it.
    Source: [LangeLittleTaylor1989]. Checked: tests/property/test_trial_pattern.py
    """
    short = is_short_shot(shots[:, 0])
    spread = np.maximum(1.4826 * np.median(np.abs(shots - np.median(shots, axis=0)), axis=0), 0.5)
    fitted = shot_pattern(shots, np.diag(spread**2), PRIOR_SHOTS, tolerance=1e-3)
    if fitted is None:
        return short
    gap = shots - fitted.middle
    distance2 = np.einsum("ni,ij,nj->n", gap, np.linalg.inv(fitted.scale), gap)
    return np.asarray(short | ((fitted.tail_df + 2) / (fitted.tail_df + distance2) < MISHIT_WEIGHT))
