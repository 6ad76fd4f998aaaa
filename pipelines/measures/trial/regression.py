"""Effect of each arm against normal: regression with sessions, drift, blocks and shot-to-shot correlation."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.products import cross_product
from pipelines.measures.trial.mixture import EffectPosterior

if TYPE_CHECKING:
    from collections.abc import Iterator

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CORRELATIONS = (-0.1, 0.0, 0.15, 0.3, 0.5)
BLOCK_SHARES = (0.0, 0.03, 0.1, 0.3)
BLOCK_SHARE_PRIOR = (0.55, 0.2, 0.15, 0.1)
DAY_SDS = (0.0, 0.5, 1.1)
DAY_SD_PRIOR = (0.27, 0.43, 0.3)
"""How much an arm's effect differs from day to day [smallest worthwhile changes], and what is believed of it beforehand."""
NOISE_DF = 4.0
FLAT = 1e-8
EXACT = 1e-3
"""No measurement is taken to be more exact than this share of what matters, not even one that is computed from another."""


@dataclass(frozen=True)
class TrialLayout:
    """Where each shot stands in a trial; all arrays of shape (n,), shots in the order in which they were struck.

    Attributes
    ----------
    arm : int array
        0 = normal, then the arms by amount.
    session : int array
        0, 1, ... in order of time.
    block : int array
        Number of the block, unique over the sessions.
    position : float array
        Place of the shot in its session, from -1 (first) to 1 (last).
    n_arms : int
    """

    arm: Ints
    session: Ints
    block: Ints
    position: Floats
    n_arms: int

    def kept(self, keep: NDArray[np.bool_]) -> TrialLayout:
        """The layout of some of the shots only."""
        return TrialLayout(self.arm[keep], self.session[keep], self.block[keep], self.position[keep], self.n_arms)


@dataclass(frozen=True)
class EffectPrior:
    """What is believed before the first shot, in the unit of the measurement.

    Attributes
    ----------
    effect_sd : float
        SD of the normal prior around 0 of every arm's effect.
    drift_sd : float
        SD of the normal prior around 0 of the change from the middle to the end of a session.
    day_sd : float
        Unit of :data:`DAY_SDS`; 0: an arm does the same on every day.
    """

    effect_sd: float
    drift_sd: float
    day_sd: float = 0.0


def whitened(values: Floats, session: Ints, correlation: float) -> Floats:
    """Values with shot-to-shot correlation taken out, session by session.

    Parameters
    ----------
    values : array (n, k)
    session : int array (n,)
        Shots of one session stand together.
    correlation : float
        Correlation of neighbouring shots, -1 < correlation < 1.

    Returns
    -------
    array (n, k)
        ``x_t - r x_(t-1)``; the first shot of a session times ``sqrt(1 - r^2)``.

    Notes
    -----
    Exact for a stationary first-order autoregression. Source: [PraisWinsten1954].
    Checked: tests/published/test_trial_regression.py
    """
    out = values.copy()
    follows = np.flatnonzero(session[1:] == session[:-1]) + 1
    out[follows] -= correlation * values[follows - 1]
    first = np.setdiff1d(np.arange(len(session)), follows)
    out[first] *= np.sqrt(1.0 - correlation**2)
    return out


def _design(layout: TrialLayout) -> tuple[Floats, Ints]:
    """Columns of the regression, and the kind of each: 0 session, 1 drift, 2 arm, 3 block, 4 arm on one day."""
    arms = np.equal.outer(layout.arm, np.arange(1, layout.n_arms)).astype(float)
    sessions = np.equal.outer(layout.session, np.unique(layout.session)).astype(float)
    blocks = np.equal.outer(layout.block, np.unique(layout.block)).astype(float)
    drift = np.column_stack([layout.position, layout.position**2 - 1 / 3])
    days = (arms[:, :, None] * sessions[:, None, :]).reshape(len(arms), -1)
    kinds = np.repeat([0, 1, 2, 3, 4], [sessions.shape[1], 2, arms.shape[1], blocks.shape[1], days.shape[1]])
    return np.hstack([sessions, drift, arms, blocks, days]), kinds


def _noise_guess(y: Floats, layout: TrialLayout) -> float:
    """SD of neighbouring differences inside blocks; the SD inside arms when there are too few."""
    same = (layout.block[1:] == layout.block[:-1]) & (layout.session[1:] == layout.session[:-1])
    steps = np.diff(y)[same]
    if len(steps) >= 5 and float(steps.std()) > 0:
        return float(np.sqrt(np.mean(steps**2) / 2))
    return max(float(y.std()), 1e-9)


def _penalties(kinds: Ints, prior: EffectPrior, noise: float, share: float, day_sd: float) -> Floats:
    """Prior precision of every column, in units of the noise variance."""
    fixed = [FLAT, (noise / prior.drift_sd) ** 2, (noise / prior.effect_sd) ** 2]
    by_kind = np.array([*fixed, 1 / share if share else 0.0, (noise / day_sd) ** 2 if day_sd else 0.0])
    return np.asarray(by_kind[kinds])


def _day_grid(prior: EffectPrior) -> list[tuple[float, float]]:
    """SDs of an arm's effect from day to day, each with what is believed of it; a single day leaves that belief as it is."""
    if not prior.day_sd:
        return [(0.0, 1.0)]
    return [(prior.day_sd * sd, chance) for sd, chance in zip(DAY_SDS, DAY_SD_PRIOR, strict=True)]


def arm_effects(y: Floats, layout: TrialLayout, prior: EffectPrior) -> EffectPosterior | None:
    """Posterior of each arm's effect against normal, in the unit of ``y``.

    Parameters
    ----------
    y : array (n,)
        Measurement; no missing values (leave those shots out of the layout as well).
    layout : TrialLayout
    prior : EffectPrior

    Returns
    -------
    EffectPosterior or None
        None when there are fewer shots than the regression needs: n <= arms + sessions + 2, or an arm without a shot.

    Raises
    ------
    ValueError
        When the lengths differ, or a value is not finite.

    Notes
    -----
    ``y = session + drift + arm + block + arm on that day + e`` with ``e`` a first-order autoregression inside each session.
    Drift is a parabola in the place of the shot. An arm may do more on one day than on another: its effect is that over days,
    so one day, or two whose differences disagree, give a wider interval than their shots alone. Conjugate
    normal-inverse-gamma fit at every point of a grid of correlation, block share (block variance over innovation variance) and
    SD from day to day. Weights are the marginal likelihoods times the prior (flat over the correlations, .55 for no block
    effect, .27 for the same effect on every day), so the result is a mixture of t distributions. The noise variance has a prior
    of 4 degrees of freedom at the variance of neighbouring shots inside blocks.

    Source: [Gelman2013], [PraisWinsten1954]. Checked: tests/published/test_trial_regression.py
    """
    if len(y) != len(layout.arm) or not np.isfinite(y).all():
        raise ValueError("y needs one finite value for every shot of the layout")
    n_free = len(y) - layout.n_arms - len(np.unique(layout.session)) - 1
    if n_free < 2 or len(np.unique(layout.arm)) < layout.n_arms:
        return None
    design, kinds = _design(layout)
    noise = max(_noise_guess(y, layout), EXACT * prior.day_sd)
    n_sessions = len(np.unique(layout.session))
    columns = [whitened(np.column_stack([design, y]), layout.session, correlation) for correlation in CORRELATIONS]
    grams = np.array([cross_product(one) for one in columns])
    jacobians = 0.5 * n_sessions * np.log1p(-(np.array(CORRELATIONS) ** 2))
    shape = 0.5 * (NOISE_DF + len(y) - n_sessions)
    fits = []
    for used, points in _points_alike(kinds, prior):
        penalties = np.array([_penalties(kinds[used], prior, noise, share, day_sd) for share, day_sd, _ in points])
        beliefs = jacobians[:, None] + np.log([belief for _, _, belief in points])
        fits.append(_conjugate_fits(grams, used, kinds[used] == 2, penalties, NOISE_DF * noise**2, shape, beliefs))
    return _mixture(fits, 2.0 * shape, len(y))


def _points_alike(kinds: Ints, prior: EffectPrior) -> Iterator[tuple[Ints, list[tuple[float, float, float]]]]:
    """Points of the grid (block share, SD from day to day, belief) that use the same columns, and these."""
    blocks = list(zip(BLOCK_SHARES, BLOCK_SHARE_PRIOR, strict=True))
    points = [(share, day_sd, chance * belief) for (share, chance), (day_sd, belief) in product(blocks, _day_grid(prior))]
    for with_blocks, with_days in product((False, True), repeat=2):
        alike = [point for point in points if (point[0] > 0, point[1] > 0) == (with_blocks, with_days)]
        if alike:
            yield np.flatnonzero((kinds < 3) | ((kinds == 3) & with_blocks) | ((kinds == 4) & with_days)), alike


Fits = tuple[Floats, Floats, Floats]
"""At some points of the grid: log marginal likelihood, and mean and squared scale of the effects."""


def _conjugate_fits(
    grams: Floats, used: Ints, is_arm: NDArray[np.bool_], penalties: Floats, noise: float, shape: float, beliefs: Floats
) -> Fits:
    """Fits at every correlation (their products of columns, the values last) and point (penalties of the columns used)."""
    products, right, squares = grams[:, used[:, None], used], grams[:, used, -1], grams[:, -1, -1]
    precision = products[:, None] + penalties[:, :, None] * np.eye(used.size)
    covariance = np.linalg.inv(precision)
    beta = (covariance @ right[:, None, :, None])[..., 0]
    rest = 0.5 * (noise + np.maximum(squares[:, None] - (right[:, None] * beta).sum(axis=-1), 0.0))
    evidence = 0.5 * (np.log(penalties).sum(axis=-1) - np.linalg.slogdet(precision)[1]) - shape * np.log(rest) + beliefs
    scales = covariance[:, :, is_arm][..., is_arm] * (rest / shape)[..., None, None]
    n_arms = int(is_arm.sum())
    return evidence.ravel(), beta[..., is_arm].reshape(-1, n_arms), scales.reshape(-1, n_arms, n_arms)


def _mixture(fits: list[Fits], df: float, n: int) -> EffectPosterior:
    evidence, means, scales = (np.concatenate(parts) for parts in zip(*fits, strict=True))
    weights = np.exp(evidence - evidence.max())
    weights /= weights.sum()
    kept = weights > 1e-4
    return EffectPosterior(weights=weights[kept] / weights[kept].sum(), means=means[kept], scales=scales[kept], df=df, n=n)
