"""Effect of every arm on every measurement, with the probability that it matters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.trial.randomisation import RandomisationResult, round_randomisation
from pipelines.measures.trial.regression import EffectPrior, arm_effects
from pipelines.measures.trial.shots import TrialQuestion, TrialShots
from pipelines.measures.worthwhile import STARTING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pipelines.measures.trial.mixture import ContrastPosterior, EffectPosterior
    from pipelines.measures.worthwhile import Worthwhile

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

EFFECT_PRIOR = 3.0
DRIFT_PRIOR = 2.0
LEAST_MEASURED = 6


@dataclass(frozen=True)
class Effect:
    """Change of one measurement in one arm against normal, in the unit of the measurement.

    Attributes
    ----------
    arm, metric : str
    n : int
        Shots behind the comparison, all arms.
    level : float
        Mean of normal.
    worthwhile : float
        Smallest change that matters.
    mean, low, high : float
        Posterior mean and 90 % interval.
    more, less, same : float
        Probabilities of a change beyond ``worthwhile`` upward, downward, and of one within it.
    is_delivery : bool
    randomisation : RandomisationResult or None
        The companion that assumes nothing but the random order; None where the order does not allow it.
    """

    arm: str
    metric: str
    n: int
    level: float
    worthwhile: float
    mean: float
    low: float
    high: float
    more: float
    less: float
    same: float
    is_delivery: bool
    randomisation: RandomisationResult | None


@dataclass(frozen=True)
class DoseEffect:
    """Change of one measurement for each step of the change, over the ordered arms.

    Attributes
    ----------
    metric : str
    mean, low, high : float
        Per step, in the unit of the measurement, with a 90 % interval.
    rising : float
        Probability that more of the change means a higher value.
    """

    metric: str
    mean: float
    low: float
    high: float
    rising: float


@dataclass(frozen=True)
class MetricEffects:
    """All arms of one measurement.

    Attributes
    ----------
    effects : tuple of Effect
    dose : DoseEffect or None
        None with fewer than three arms.
    """

    effects: tuple[Effect, ...]
    dose: DoseEffect | None


def metric_effects(
    shots: TrialShots,
    question: TrialQuestion,
    metric: str,
    core: Truths,
    rng: np.random.Generator,
    worthwhile: Mapping[str, Worthwhile] = STARTING.by_measurement,
) -> MetricEffects | None:
    """Effects of all arms on one measurement; None where it was not measured well enough.

    Parameters
    ----------
    shots : TrialShots
    question : TrialQuestion
    metric : str
        A key of ``worthwhile``.
    core : bool array (n,)
        Shots that are no mishits.
    rng : Generator
    worthwhile : mapping of str to Worthwhile
        What matters of each measurement.

    Notes
    -----
    Prior: every arm's effect is normal around 0 with an SD of three smallest worthwhile changes, drift with two.
    Source: [Kruschke2018]. Checked: tests/unit/test_trial_analysis.py, tests/benchmarks/test_trial_sizes.py
    """
    kind, values, layout = worthwhile[metric], shots.values(metric), shots.layout
    keep = np.isfinite(values) & (core if kind.only_core else True)
    if not keep.any() or np.bincount(layout.arm[keep], minlength=len(shots.arms)).min() < LEAST_MEASURED:
        return None
    y, kept = values[keep], layout.kept(keep)
    level = float(y[kept.arm == 0].mean())
    worth = kind.at(level)
    posterior = arm_effects(y, kept, EffectPrior(EFFECT_PRIOR * worth, DRIFT_PRIOR * worth, day_sd=worth))
    if posterior is None:
        return None
    effects = tuple(
        _effect(arm, metric, level, kind, posterior.arm(i), _companion(shots, values, keep, i, rng))
        for i, arm in enumerate(shots.arms)
        if i > 0
    )
    return MetricEffects(effects, _dose(posterior, metric, shots.arms, question))


def _effect(
    arm: str, metric: str, level: float, kind: Worthwhile, effect: ContrastPosterior, companion: RandomisationResult | None
) -> Effect:
    low, high = effect.interval()
    worth = kind.at(level)
    more, less = effect.above(worth), effect.below(-worth)
    return Effect(
        arm=arm,
        metric=metric,
        n=effect.n,
        level=level,
        worthwhile=worth,
        mean=effect.mean,
        low=low,
        high=high,
        more=more,
        less=less,
        same=max(0.0, 1.0 - more - less),
        is_delivery=kind.is_delivery,
        randomisation=companion,
    )


def _dose(posterior: EffectPosterior, metric: str, arms: tuple[str, ...], question: TrialQuestion) -> DoseEffect | None:
    if len(arms) < 3:
        return None
    amounts = np.array([question.amount(arm) for arm in arms], dtype=float)
    away = amounts - amounts.mean()
    slope = posterior.contrast(away[1:] / (away @ away))
    low, high = slope.interval()
    return DoseEffect(metric, slope.mean, low, high, slope.above(0.0))


def _companion(shots: TrialShots, values: Floats, keep: Truths, arm: int, rng: np.random.Generator) -> RandomisationResult | None:
    """The randomisation test on block means, where whole rounds allow it."""
    block = shots.layout.block
    sums = np.bincount(block[keep], values[keep], minlength=block[-1] + 1)
    counts = np.bincount(block[keep], minlength=block[-1] + 1)
    whole = np.array([part for part in shots.rounds if all(counts[i] > 0 for i in part)], dtype=np.int64)
    if len(whole) < 2 or not shots.is_mixed:
        return None
    arm_of = np.zeros(block[-1] + 1, dtype=np.int64)
    arm_of[block] = shots.layout.arm
    return round_randomisation(sums[whole] / counts[whole], arm_of[whole], arm, rng)
