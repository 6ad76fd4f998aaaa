"""Expected strokes of each arm from its pattern, with the uncertainty of the pattern carried through."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pipelines.measures.tables import published_table
from pipelines.measures.trial.pattern import PatternPosterior
from pipelines.measures.trial.value import sample_information_value

if TYPE_CHECKING:
    from pipelines.measures.trial.cost import CostModel

Floats = NDArray[np.float64]

DRAWS = 400
PRIOR_CENTRE_SHOTS = 1.0
PRIOR_SHAPE_SHOTS = 8.0
MISHIT_PRIOR = (1.0, 12.0)
MISHIT_EXTRA_STROKES = 0.5
MISHIT_EXTRA_SD = 0.5
MISHIT_PRIOR_SHOTS = 3.0


@dataclass(frozen=True)
class ArmShots:
    """Landing places of one arm with sessions and drift taken out.

    Attributes
    ----------
    core : array (n, 2)
        Carry and offline [m] of the shots that are no mishits.
    missed : array (m, 2)
        The same of the mishits.
    """

    core: Floats
    missed: Floats


@dataclass(frozen=True)
class StrokesDifference:
    """Strokes a round of one arm minus those of normal; below 0 is better.

    Attributes
    ----------
    draws : array (DRAWS,)
        Posterior draws of the difference.
    level : float
        Posterior mean of the arm's strokes per tee shot.
    shots_per_arm : float
        Harmonic mean of the shots of the two arms.
    """

    draws: Floats
    level: float
    shots_per_arm: float

    @property
    def mean(self) -> float:
        """Posterior mean."""
        return float(self.draws.mean())

    @property
    def sd(self) -> float:
        """Posterior standard deviation."""
        return float(self.draws.std(ddof=1))

    def above(self, value: float) -> float:
        """Probability that the arm costs more than ``value`` beyond normal; half a draw is added on each side."""
        return float((np.sum(self.draws > value) + 0.5) / (len(self.draws) + 1))

    def interval(self, coverage: float = 0.9) -> tuple[float, float]:
        """Central interval."""
        low, high = np.quantile(self.draws, [(1 - coverage) / 2, (1 + coverage) / 2])
        return float(low), float(high)

    @property
    def loss_if_kept(self) -> float:
        """Strokes a round that choosing the arm loses on average, if it is the worse one: ``E max(0, difference)``."""
        return float(np.maximum(self.draws, 0.0).mean())

    @property
    def loss_if_dropped(self) -> float:
        """Strokes a round that staying with normal loses on average: ``E max(0, -difference)``."""
        return float(np.maximum(-self.draws, 0.0).mean())

    def value_of_more(self, more_per_arm: int) -> float:
        """Strokes a round that further shots of each arm gain on average before the choice.

        Source: [RaiffaSchlaifer1961]. Checked: tests/published/test_trial_value.py
        """
        shot_variance = self.sd**2 * self.shots_per_arm / 2
        return sample_information_value(self.mean, self.sd, shot_variance, more_per_arm)


@cache
def normal_points() -> Floats:
    """Low-discrepancy points of the bivariate standard normal, shape (128, 2)."""
    return np.asarray(ndtri(published_table("sobol_points").to_numpy()))


def pooled_prior(arms: list[ArmShots]) -> PatternPosterior:
    """Weak belief shared by all arms: the middle of all (worth one shot) and the pooled shape inside arms (worth eight)."""
    core = np.vstack([arm.core for arm in arms])
    inside = sum(np.atleast_2d((arm.core - arm.core.mean(axis=0)).T @ (arm.core - arm.core.mean(axis=0))) for arm in arms)
    pooled = np.asarray(inside) / max(len(core) - len(arms), 1) + 0.25 * np.eye(2)
    return PatternPosterior(core.mean(axis=0), PRIOR_CENTRE_SHOTS, pooled * (PRIOR_SHAPE_SHOTS - 3), PRIOR_SHAPE_SHOTS)


def strokes_differences(arms: list[ArmShots], cost: CostModel, rng: np.random.Generator) -> list[StrokesDifference] | None:
    """Strokes a round of every arm against the first (normal), on one course.

    Parameters
    ----------
    arms : list of ArmShots
        Normal first.
    cost : CostModel
    rng : Generator

    Returns
    -------
    list of StrokesDifference or None
        One per arm, the first all zero. None when an arm has fewer than 4 core shots.

    Notes
    -----
    Core: normal-inverse-Wishart with the prior of :func:`pooled_prior`; each of 400 draws of centre and covariance is laid over
    the course with 128 low-discrepancy points, at the best aim for the arm's mean pattern. Mishits: their share is
    Beta(1 + m, 12 + n - m) for each arm; what one costs is pooled over the arms, with a prior of half a stroke more than
    the core, worth three shots. Source: [Murphy2007], [Broadie2012]. Checked: tests/unit/test_trial_strokes.py,
    tests/benchmarks/test_trial_sizes.py
    """
    if min(len(arm.core) for arm in arms) < 4:
        return None
    prior = pooled_prior(arms)
    cores, missed, levels = [], [], []
    for arm in arms:
        posterior = prior.updated(arm.core)
        sd = np.sqrt(np.diag(posterior.covariance))
        grid = cost.grid(float(posterior.centre[0]), float(sd[0]), float(sd[1]), _mishit_rate(arm))
        centres, factors = posterior.draws(DRAWS, rng)
        landing = centres[:, None, :] + normal_points() @ np.swapaxes(factors, 1, 2)
        middle = posterior.centre[1]
        cores.append(grid.at(landing[..., 0], landing[..., 1] - middle).mean(axis=1))
        missed.append(grid.at(arm.missed[:, 0], arm.missed[:, 1] - middle))
        levels.append(rng.beta(MISHIT_PRIOR[0] + len(arm.missed), MISHIT_PRIOR[1] + len(arm.core), DRAWS))
    extra = _mishit_extra(cores, missed, rng)
    strokes = [core + rate * extra for core, rate in zip(cores, levels, strict=True)]
    sizes = [len(arm.core) + len(arm.missed) for arm in arms]
    return [
        StrokesDifference((own - strokes[0]) * cost.tee_shots, float(own.mean()), 2 / (1 / sizes[0] + 1 / size))
        for own, size in zip(strokes, sizes, strict=True)
    ]


def _mishit_rate(arm: ArmShots) -> float:
    return (MISHIT_PRIOR[0] + len(arm.missed)) / (sum(MISHIT_PRIOR) + len(arm.missed) + len(arm.core))


def _mishit_extra(cores: list[Floats], missed: list[Floats], rng: np.random.Generator) -> Floats:
    """Draws of what a mishit costs beyond a core shot, pooled over the arms."""
    extras = np.concatenate([costs - core.mean() for costs, core in zip(missed, cores, strict=True)])
    weight = MISHIT_PRIOR_SHOTS + len(extras)
    mean = (MISHIT_PRIOR_SHOTS * MISHIT_EXTRA_STROKES + extras.sum()) / weight
    return np.asarray(mean + MISHIT_EXTRA_SD / np.sqrt(weight) * rng.standard_normal(DRAWS))
