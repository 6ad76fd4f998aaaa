"""What a number of shots can and cannot show, from the player's own noise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr, ndtri

from pipelines.measures.trial.strokes import ArmShots, strokes_differences
from pipelines.measures.trial.verdict import LEAST_DAYS, SPEED_SURE
from pipelines.measures.worthwhile import STARTING

if TYPE_CHECKING:
    from pipelines.measures.trial.cost import CostModel
    from pipelines.measures.trial.noise import PlayerNoise

POWER = 0.8
SIZE = 0.05
MISHIT_WIDTH = 3.5
PLANNED = (10, 20, 30, 40, 60, 80, 120)
STROKES_TRIALS = 20
DAY_SD = 0.53
"""How much an arm's effect differs from day to day [smallest worthwhile changes], as the analysis allows for it on average.

Calibrated: so that the chance named here is the share that the analysis calls worthwhile in simulated trials on two days.
"""


def _z_sum() -> float:
    return float(ndtri(1 - SIZE / 2) + ndtri(POWER))


def speed_error_pct(noise: PlayerNoise, shots_per_arm: int) -> float:
    """Standard error of the speed gain in percent, from shots of two arms in random blocks of five.

    Notes
    -----
    ``CV sqrt(2/n)`` times ``sqrt((1 + r)/(1 - r))`` for the part of the correlation ``r`` that a block of five keeps:
    the variance of a mean of five neighbouring shots over that of five independent ones.
    Checked: tests/published/test_trial_power.py
    """
    lags = np.arange(1, 5)
    inflation = 1 + 2 * float(np.sum((1 - lags / 5) * noise.correlation**lags))
    return float(noise.speed_cv_pct * np.sqrt(2 / shots_per_arm * inflation))


def worthwhile_chance(noise: PlayerNoise, shots_per_arm: int, gain_pct: float, worth_pct: float = STARTING.speed_pct) -> float:
    """Chance that the rule calls a true gain worthwhile: probability of more than the smallest worthwhile gain above .82.

    The arm is struck on two days, and may do more on one than on the other.

    Checked: tests/unit/test_trial_power.py
    """
    error = float(np.hypot(speed_error_pct(noise, shots_per_arm), DAY_SD * worth_pct / np.sqrt(LEAST_DAYS)))
    return float(ndtr((gain_pct - worth_pct) / error - ndtri(SPEED_SURE)))


def relative_variance(mishit_rate: float) -> float:
    """Variance of the absolute deviation over its squared mean, for normal shots of which some are 3.5 times as wide.

    Notes
    -----
    ``(1 - e + w^2 e) / ((2/pi) (1 - e + w e)^2) - 1`` with w = 3.5; ``pi/2 - 1`` without mishits.
    Checked: tests/published/test_trial_power.py
    """
    second = 1 - mishit_rate + mishit_rate * MISHIT_WIDTH**2
    first = 1 - mishit_rate + mishit_rate * MISHIT_WIDTH
    return float(second / (2 / np.pi * first**2) - 1)


def shots_for_scatter(ratio: float, mishit_rate: float = 0.0) -> int:
    """Shots an arm that tell a ratio of scatters from 1 four times in five (two-sided 5 %).

    Notes
    -----
    ``2 c (2.80)^2 / ln(ratio)^2 + 3`` with c of :func:`relative_variance`; the 3 are for the small sample.
    Checked: tests/published/test_trial_power.py
    """
    return int(np.ceil(2 * relative_variance(mishit_rate) * (_z_sum() / np.log(ratio)) ** 2 + 3))


def smallest_scatter(shots_per_arm: int, mishit_rate: float = 0.0) -> float:
    """Smallest ratio of scatters above 1 that is shown four times in five.

    Checked: tests/unit/test_trial_power.py
    """
    return float(np.exp(_z_sum() * np.sqrt(2 * relative_variance(mishit_rate) / max(shots_per_arm - 3, 1))))


def strokes_error(noise: PlayerNoise, shots_per_arm: int, cost: CostModel, rng: np.random.Generator) -> float:
    """Posterior SD of the difference in strokes a round, the mean over 20 simulated trials without any change.

    Checked: tests/unit/test_trial_power.py
    """
    found = []
    for _ in range(STROKES_TRIALS):
        arms = [_simulated_arm(noise, shots_per_arm, rng) for _ in range(2)]
        differences = strokes_differences(arms, cost, rng)
        if differences is not None:
            found.append(differences[1].sd)
    return float(np.mean(found))


def _simulated_arm(noise: PlayerNoise, n: int, rng: np.random.Generator) -> ArmShots:
    missed = int(rng.binomial(n, noise.mishit_rate)) if n > 8 else 0
    spread = np.array([noise.carry_sd_m, noise.offline_sd_m])
    core = np.array([noise.carry_m, 0.0]) + spread * rng.standard_normal((n - missed, 2))
    bad = np.array([0.7 * noise.carry_m, 0.0]) + 2.5 * spread * rng.standard_normal((missed, 2))
    return ArmShots(core, bad)


@dataclass(frozen=True)
class PowerRow:
    """What one number of shots an arm can show.

    Attributes
    ----------
    shots_per_arm : int
    smallest_speed_pct : float
        Gain that is told from nothing four times in five.
    chance_of_twice : float
        Chance that a true gain of twice the smallest worthwhile one is called worthwhile.
    smallest_scatter : float
        Ratio of left-right scatter that is told from 1 four times in five.
    smallest_strokes : float or None
        Difference in strokes a round that is told from none four times in five; None without a course.
    """

    shots_per_arm: int
    smallest_speed_pct: float
    chance_of_twice: float
    smallest_scatter: float
    smallest_strokes: float | None


def power_row(
    noise: PlayerNoise,
    shots_per_arm: int,
    cost: CostModel | None,
    rng: np.random.Generator,
    worth_pct: float = STARTING.speed_pct,
) -> PowerRow:
    """One row of the power table.

    Checked: tests/unit/test_trial_power.py
    """
    return PowerRow(
        shots_per_arm=shots_per_arm,
        smallest_speed_pct=_z_sum() * speed_error_pct(noise, shots_per_arm),
        chance_of_twice=worthwhile_chance(noise, shots_per_arm, 2.0 * worth_pct, worth_pct),
        smallest_scatter=smallest_scatter(shots_per_arm, noise.mishit_rate),
        smallest_strokes=None if cost is None else _z_sum() * strokes_error(noise, shots_per_arm, cost, rng),
    )


def proposed_shots(noise: PlayerNoise, worth_pct: float = STARTING.speed_pct) -> int:
    """Shots an arm after which a gain of twice the smallest worthwhile one is called so 85 times in 100: 20 to 120, in tens.

    Checked: tests/unit/test_trial_power.py
    """
    enough = (n for n in range(20, 121, 10) if worthwhile_chance(noise, n, 2.0 * worth_pct, worth_pct) >= 0.85)
    return next(enough, 120)
