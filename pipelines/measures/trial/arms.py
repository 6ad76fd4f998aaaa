"""Where the shots of each arm land: adjusted places, mishits, scatter against normal, ellipse."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.scatter import Ellipse, Rate, ellipse, large_sample_multiplier, mishit_rate
from pipelines.measures.trial.pattern import mishits
from pipelines.measures.trial.spread import SpreadRatio, spread_ratio
from pipelines.measures.trial.strokes import ArmShots, pooled_prior

if TYPE_CHECKING:
    from pipelines.measures.trial.regression import TrialLayout
    from pipelines.measures.trial.shots import TrialShots

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

ELLIPSE_SHARE = 0.5


@dataclass(frozen=True)
class ArmPattern:
    """Pattern of one arm.

    Attributes
    ----------
    arm : str
    n : int
        Shots with carry and offline.
    mishits : Rate or None
        Their share with a 95 % interval; None without shots.
    n_mishits : int
    carry_m, offline_m : float
        Middle of the core.
    carry_sd_m, offline_sd_m : float
        Standard deviations of the core.
    ellipse : Ellipse
        Holds half of the core shots.
    left_right, long_short : SpreadRatio or None
        Scatter over that of normal; None for normal itself and for fewer than 6 shots.
    """

    arm: str
    n: int
    mishits: Rate | None
    n_mishits: int
    carry_m: float
    offline_m: float
    carry_sd_m: float
    offline_sd_m: float
    ellipse: Ellipse
    left_right: SpreadRatio | None
    long_short: SpreadRatio | None


@dataclass(frozen=True)
class Landing:
    """Landing places of a trial.

    Attributes
    ----------
    core : bool array (n,)
        Shots of the trial that are no mishits; true where no place is known.
    adjusted : array (n, 2)
        Carry and offline [m] of every shot, what differs between sessions taken out; NaN where no place is known.
    arms : list of ArmShots
        By arm, sessions taken out.
    patterns : tuple of ArmPattern
    """

    core: Truths
    adjusted: Floats
    arms: list[ArmShots]
    patterns: tuple[ArmPattern, ...]


def landing(shots: TrialShots) -> Landing:
    """Landing places by arm, with what differs between sessions taken out and mishits set beside the core.

    Parameters
    ----------
    shots : TrialShots

    Returns
    -------
    Landing
        Without carry or offline in at least 4 core shots of every arm: no arms and no patterns.

    Notes
    -----
    Session effects are estimated by least squares beside the arms, on core shots; their mean is kept.
    Checked: tests/unit/test_trial_arms.py
    """
    places = np.column_stack([shots.values("carry_m"), shots.values("offline_m")])
    known: Truths = np.asarray(np.isfinite(places).all(axis=1))
    core = np.ones(len(places), dtype=bool)
    layout = shots.layout.kept(known)
    if known.sum() < 8 or np.bincount(layout.arm, minlength=len(shots.arms)).min() < 4:
        return Landing(core, places, [], ())
    is_core = _core(places[known], layout)
    core[known] = is_core
    if np.bincount(layout.arm[is_core], minlength=len(shots.arms)).min() < 4:
        return Landing(core, places, [], ())
    adjusted = places[known] - _session_effects(places[known], layout, is_core)
    arms = [
        ArmShots(adjusted[(layout.arm == i) & is_core], adjusted[(layout.arm == i) & ~is_core]) for i in range(len(shots.arms))
    ]
    everywhere = places.copy()
    everywhere[known] = adjusted
    return Landing(core, everywhere, arms, _patterns(shots.arms, arms))


def _core(places: Floats, layout: TrialLayout) -> Truths:
    """Which shots are no mishits; every session is moved to the common median first."""
    moved = places.copy()
    for session in np.unique(layout.session):
        moved[layout.session == session] -= np.median(places[layout.session == session], axis=0)
    moved += np.median(places, axis=0)
    out = np.zeros(len(places), dtype=bool)
    for arm in np.unique(layout.arm):
        out[layout.arm == arm] = mishits(moved[layout.arm == arm])
    return ~out


def _session_effects(places: Floats, layout: TrialLayout, core: Truths) -> Floats:
    sessions = np.equal.outer(layout.session, np.unique(layout.session)).astype(float)
    if sessions.shape[1] == 1:
        return np.zeros_like(places)
    arms = np.equal.outer(layout.arm, np.arange(1, layout.n_arms)).astype(float)
    fitted, *_ = np.linalg.lstsq(np.hstack([sessions, arms])[core], places[core], rcond=None)
    effects = sessions @ fitted[: sessions.shape[1]]
    return np.asarray(effects - effects.mean(axis=0))


def _patterns(names: tuple[str, ...], arms: list[ArmShots]) -> tuple[ArmPattern, ...]:
    prior = pooled_prior(arms)
    everything = [np.vstack([arm.core, arm.missed]) for arm in arms]
    found = []
    for i, (name, arm) in enumerate(zip(names, arms, strict=True)):
        posterior = prior.updated(arm.core)
        sd = np.sqrt(np.diag(posterior.covariance))
        missed = len(arm.missed)
        ratios = [spread_ratio(everything[0][:, axis], everything[i][:, axis]) if i else None for axis in (1, 0)]
        found.append(
            ArmPattern(
                arm=name,
                n=len(arm.core) + missed,
                mishits=mishit_rate(missed, len(arm.core) + missed),
                n_mishits=missed,
                carry_m=float(posterior.centre[0]),
                offline_m=float(posterior.centre[1]),
                carry_sd_m=float(sd[0]),
                offline_sd_m=float(sd[1]),
                ellipse=ellipse(posterior.covariance, large_sample_multiplier(ELLIPSE_SHARE)),
                left_right=ratios[0],
                long_short=ratios[1],
            )
        )
    return tuple(found)
