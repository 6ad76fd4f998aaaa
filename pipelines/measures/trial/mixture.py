"""A posterior that is a mixture of t distributions, and what is read off it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class EffectPosterior:
    """Joint posterior of the effects of all arms against normal.

    Attributes
    ----------
    weights : array (k,)
        Weights of the components; they add up to 1.
    means : array (k, a)
        Centre of each component, one effect per arm other than normal.
    scales : array (k, a, a)
        Squared scale matrix of each component.
    df : float
        Degrees of freedom of every component.
    n : int
        Shots behind it.
    """

    weights: Floats
    means: Floats
    scales: Floats
    df: float
    n: int

    def contrast(self, coefficients: Floats) -> ContrastPosterior:
        """Posterior of a weighted sum of the effects; ``coefficients`` has shape (a,)."""
        scales = np.einsum("i,kij,j->k", coefficients, self.scales, coefficients)
        return ContrastPosterior(self.weights, self.means @ coefficients, np.sqrt(np.maximum(scales, 1e-24)), self.df, self.n)

    def arm(self, arm: int) -> ContrastPosterior:
        """Posterior of the effect of one arm, counted from 1."""
        return self.contrast(np.eye(self.means.shape[1])[arm - 1])


@dataclass(frozen=True)
class ContrastPosterior:
    """Posterior of one number: a mixture of t distributions with common degrees of freedom.

    Attributes
    ----------
    weights, centres, scales : array (k,)
    df : float
    n : int
        Shots behind it.
    """

    weights: Floats
    centres: Floats
    scales: Floats
    df: float
    n: int

    @property
    def mean(self) -> float:
        """Posterior mean."""
        return float(self.weights @ self.centres)

    @property
    def sd(self) -> float:
        """Posterior standard deviation."""
        inner = self.scales**2 * self.df / (self.df - 2) + (self.centres - self.mean) ** 2
        return float(np.sqrt(self.weights @ inner))

    def below(self, value: float) -> float:
        """Probability that the number is below ``value``."""
        return float(self.weights @ stdtr(self.df, (value - self.centres) / self.scales))

    def above(self, value: float) -> float:
        """Probability that the number is above ``value``."""
        return 1.0 - self.below(value)

    def within(self, half_width: float) -> float:
        """Probability that the number is between ``-half_width`` and ``half_width``."""
        return max(0.0, self.below(half_width) - self.below(-half_width))

    def quantile(self, probability: float) -> float:
        """Value with this probability below it."""
        from scipy.optimize import brentq  # noqa: PLC0415 - slow to load, and large: of use where there is a trial

        reach = 60.0 * float(self.scales.max())
        low, high = float(self.centres.min()) - reach, float(self.centres.max()) + reach
        return float(brentq(lambda value: self.below(value) - probability, low, high, xtol=1e-9 * (1 + reach)))

    def interval(self, coverage: float = 0.9) -> tuple[float, float]:
        """Central interval that holds the number with this probability."""
        return self.quantile((1 - coverage) / 2), self.quantile((1 + coverage) / 2)
