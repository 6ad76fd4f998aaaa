"""Time-loss injuries: incidence and burden per 1000 hours, with intervals that are resampled over players, or exact for none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pipelines.measures.intervals import count_interval

if TYPE_CHECKING:
    from pipelines.measures.load.grid import Counts, Floats


@dataclass(frozen=True)
class Burden:
    """Incidence and burden of a squad.

    Attributes
    ----------
    n : int
        Injuries with absence.
    hours : float
        Hours of exposure [h].
    incidence : float
        Injuries per 1000 h.
    mean_days : float or None
        Mean days of absence; None without an injury.
    burden : float
        Days of absence per 1000 h: incidence times *mean* days.
    incidence_low, incidence_high, burden_low, burden_high : float or None
        95 % intervals: over players, None with fewer than 5; of the incidence of no injury exact, and None of its burden.
    """

    n: int
    hours: float
    incidence: float
    mean_days: float | None
    burden: float
    incidence_low: float | None
    incidence_high: float | None
    burden_low: float | None
    burden_high: float | None


def injury_burden(
    n_injuries: Counts, days_absent: Floats, hours: Floats, rng: np.random.Generator, n_resamples: int = 2000
) -> Burden | None:
    """Incidence and burden per 1000 h, with bootstrap intervals over players.

    Parameters
    ----------
    n_injuries, days_absent, hours : (players,) arrays
        Of each player: injuries with absence, their days in sum [d], exposure [h].
    rng : numpy.random.Generator
    n_resamples : int

    Returns
    -------
    Burden or None
        None without any exposure: reason ``no_exposure``.

    Notes
    -----
    ``burden = 1000 sum(days) / sum(hours) = incidence x mean days``; the median must not take the mean's place. Percentile
    bootstrap, players drawn with replacement; where there was no injury nothing can be drawn, and the exact limits of a count of
    none stand in its place.

    Source: [Fuller2023], [Bahr2020], [Garwood1936]
    Checked: tests/published/test_burden.py
    """
    total_hours = float(hours.sum())
    if total_hours <= 0:
        return None
    n, days = int(n_injuries.sum()), float(days_absent.sum())
    low_high: tuple[float | None, ...] = (None, None, None, None)
    if n == 0:
        low_high = (*count_interval(0, total_hours / 1000, 0.95), None, None)
    elif hours.size >= 5:
        low_high = _resampled(n_injuries.astype(np.float64), days_absent, hours, rng, n_resamples)
    return Burden(n, total_hours, 1000 * n / total_hours, days / n if n else None, 1000 * days / total_hours, *low_high)


def _resampled(
    n: Floats, days: Floats, hours: Floats, rng: np.random.Generator, n_resamples: int
) -> tuple[float, float, float, float]:
    drawn = rng.multinomial(hours.size, np.full(hours.size, 1 / hours.size), size=n_resamples).astype(np.float64)
    exposure = drawn @ hours
    drawn, exposure = drawn[exposure > 0], exposure[exposure > 0]
    rate, burden = 1000 * (drawn @ n) / exposure, 1000 * (drawn @ days) / exposure
    found = (*np.quantile(rate, (0.025, 0.975)), *np.quantile(burden, (0.025, 0.975)))
    return float(found[0]), float(found[1]), float(found[2]), float(found[3])
