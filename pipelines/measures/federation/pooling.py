"""Estimates of several academies brought together: random effects, with how much the academies differ."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, stdtrit

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Pooled:
    """Several estimates as one.

    Attributes
    ----------
    n : int
        Estimates.
    mean, error, low, high : float
        Mean of the true effects, its standard error and interval, in the unit of the estimates.
    between_sd, between_low, between_high : float
        Standard deviation of the true effects between academies, with its interval.
    heterogeneity, heterogeneity_low, heterogeneity_high : float
        Share of the variation of the estimates that is no sampling error, 0 to 1.
    next_low, next_high : float or None
        Where the true effect of a further academy is expected; None with fewer than three estimates.
    """

    n: int
    mean: float
    error: float
    low: float
    high: float
    between_sd: float
    between_low: float
    between_high: float
    heterogeneity: float
    heterogeneity_low: float
    heterogeneity_high: float
    next_low: float | None
    next_high: float | None


def random_effects(effects: Floats, variances: Floats, level: float = 0.90) -> Pooled:
    """Mean of effects that differ from academy to academy, from one estimate of each.

    Parameters
    ----------
    effects, variances : (k,) arrays
        Estimates and their sampling variances, above 0; at least two. No NaN.
    level : float
        Of the intervals.

    Returns
    -------
    Pooled

    Raises
    ------
    ValueError
        With fewer than two estimates, arrays of unequal length, or a variance that is not positive.

    Notes
    -----
    ``y_i ~ N(mu, tau**2 + v_i)``, ``w_i = 1 / (tau**2 + v_i)``. ``tau**2`` by restricted maximum likelihood, at the root of
    ``sum(w**2 (y - mu)**2) = sum(w) - sum(w**2) / sum(w)`` or 0. Standard error of Knapp and Hartung,
    ``sqrt(max(1, q) / sum(w))`` with ``q = sum(w (y - mu)**2) / (k - 1)``, t with k - 1 degrees of freedom; the 1 keeps a
    handful of academies that happen to agree from an interval narrower than their own errors allow. Interval of ``tau**2``:
    where ``sum(w (y - mu)**2)`` meets the quantiles of chi-square with k - 1 degrees of freedom. Share of heterogeneity:
    ``tau**2 / (tau**2 + s**2)``, ``s**2 = (k - 1) sum(1/v) / (sum(1/v)**2 - sum(1/v**2))``. A further academy:
    ``mu +- t(k - 2) sqrt(tau**2 + error**2)``.

    Source: [Viechtbauer2005], [KnappHartung2003], [Roever2015], [Viechtbauer2007], [HigginsThompson2002], [Higgins2009]
    Checked: tests/published/test_colditz_1994.py
    """
    if effects.size < 2 or effects.size != variances.size or np.any(variances <= 0):
        raise ValueError("pooling needs at least two estimates, each with a positive variance")
    k = effects.size
    tau2 = _root(lambda t: _restricted_score(effects, variances, t), float(variances.max()))
    mean, weight = _mean(effects, variances, tau2)
    q = float(weight @ (effects - mean) ** 2) / (k - 1)
    error = float(np.sqrt(max(1.0, q) / weight.sum()))
    reach = float(stdtrit(k - 1, (1 + level) / 2)) * error
    low2, high2 = _between_interval(effects, variances, level)
    typical = _typical_variance(variances)
    ahead = float(stdtrit(k - 2, (1 + level) / 2) * np.sqrt(tau2 + error**2)) if k > 2 else None
    shares = [one / (one + typical) for one in (tau2, low2, high2)]
    deviations = [float(np.sqrt(one)) for one in (tau2, low2, high2)]
    return Pooled(
        n=k,
        mean=mean,
        error=error,
        low=mean - reach,
        high=mean + reach,
        between_sd=deviations[0],
        between_low=deviations[1],
        between_high=deviations[2],
        heterogeneity=shares[0],
        heterogeneity_low=shares[1],
        heterogeneity_high=shares[2],
        next_low=None if ahead is None else mean - ahead,
        next_high=None if ahead is None else mean + ahead,
    )


def _mean(effects: Floats, variances: Floats, tau2: float) -> tuple[float, Floats]:
    weight = 1.0 / (tau2 + variances)
    return float(weight @ effects / weight.sum()), weight


def _restricted_score(effects: Floats, variances: Floats, tau2: float) -> float:
    mean, weight = _mean(effects, variances, tau2)
    own = float(weight**2 @ (effects - mean) ** 2)
    return own - float(weight.sum() - (weight**2).sum() / weight.sum())


def _heterogeneity_sum(effects: Floats, variances: Floats, tau2: float) -> float:
    mean, weight = _mean(effects, variances, tau2)
    return float(weight @ (effects - mean) ** 2)


def _between_interval(effects: Floats, variances: Floats, level: float) -> tuple[float, float]:
    k, scale = effects.size, float(variances.max())

    def where(tail: float) -> float:
        wanted = float(chdtri(k - 1, tail))
        return _root(lambda t: _heterogeneity_sum(effects, variances, t) - wanted, scale)

    return where((1 - level) / 2), where((1 + level) / 2)


def _root(falling: Callable[[float], float], scale: float) -> float:
    """Where a function that falls from above 0 meets 0; 0 when it begins below."""
    from scipy.optimize import brentq  # noqa: PLC0415 - slow to load, and large: of use to a federation alone

    if falling(0.0) <= 0:
        return 0.0
    high = scale
    while falling(high) > 0:
        high *= 2.0
    return float(brentq(falling, 0.0, high, xtol=1e-14, rtol=1e-13))


def _typical_variance(variances: Floats) -> float:
    weight = 1.0 / variances
    return float((variances.size - 1) * weight.sum() / (weight.sum() ** 2 - (weight**2).sum()))
