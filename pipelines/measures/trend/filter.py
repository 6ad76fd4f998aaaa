"""Local linear trend in continuous time, filtered for many series and many hyper-parameters at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.trend.grid import TrendGrid
from pipelines.measures.trend.series import SeriesBatch

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class FilterPass:
    """State after each session, and what a copy of an earlier level needs to be carried along.

    All arrays are (N, S, G): session, series, grid point; what lies beyond a series' length is undefined.

    Attributes
    ----------
    level, slope : arrays
        Filtered means [scale units, per day].
    level_variance, covariance, slope_variance : arrays
        Filtered (co)variances.
    reach, cross : arrays
        Variance of the level and its covariance with the slope just before the session.
    push, pull : arrays
        By how much a unit of ``reach`` moves the mean, and lowers the variance, at the session.
    log_weight : array
        Log weight of the grid point, normalised.
    log_likelihood : (S, G) array
        Of the whole series.
    odd : (N, S) array
        Probability that the session was odd, averaged over the grid.
    jumped, jump_size : (N, S) arrays
        Probability that the level jumped just before the session, and by how much it then did, averaged over the grid.
    expected, expected_variance : (N, S) arrays
        Of the session's value, before it was known (level and session noise; ``inf`` variance at the first).
    """

    level: Floats
    slope: Floats
    level_variance: Floats
    covariance: Floats
    slope_variance: Floats
    reach: Floats
    cross: Floats
    push: Floats
    pull: Floats
    log_weight: Floats
    log_likelihood: Floats
    odd: Floats
    jumped: Floats
    jump_size: Floats
    expected: Floats
    expected_variance: Floats


def filter_pass(batch: SeriesBatch, grid: TrendGrid) -> FilterPass:
    """The filter over all sessions of all series; series must be ordered by falling length.

    Parameters
    ----------
    batch : SeriesBatch
    grid : TrendGrid

    Returns
    -------
    FilterPass

    Raises
    ------
    ValueError
        When series are not ordered by falling length.

    Notes
    -----
    State: level and slope. Over a gap of d days ``level += d * slope``; variance gained ``q_level * [[d, 0], [0, 0]] + q_slope
    * [[d**3/3, d**2/2], [d**2/2, d]]``. Session value = level + e with ``Var e = tau**2 + s**2/n``, or, for an odd session,
    ``odd_factor * tau**2 + s**2/n``, or with a level that jumped just before it; the three updates are collapsed to their mean
    and variance. Prior mean of level and slope is 0: give values relative to an origin near them.

    The grid point's weight is its likelihood, which fades with age.

    Source: [DurbinKoopman2012] (state space), [HarrisonStevens1976] (mixture), [Raftery2010] (fading weights)
    Checked: tests/published/test_nile.py (log-likelihood and state equal to statsmodels with missing years)
    """
    if np.any(np.diff(batch.lengths) > 0):
        raise ValueError("series must be ordered by falling length")
    work = _Workspace.empty(batch, grid)
    for step in range(int(batch.lengths[0])):
        _advance(work, batch, grid, step, int(np.searchsorted(-batch.lengths, -step, side="left")))
    return work.outcome


@dataclass
class _Workspace:
    outcome: FilterPass
    level: Floats
    slope: Floats
    variance: Floats
    cross: Floats
    slope_variance: Floats
    weight: Floats

    @staticmethod
    def empty(batch: SeriesBatch, grid: TrendGrid) -> _Workspace:
        n, series = batch.days.shape
        shape = (series, grid.n_points)
        stack = (n, *shape)
        outcome = FilterPass(
            level=np.zeros(stack),
            slope=np.empty(stack),
            level_variance=np.empty(stack),
            covariance=np.empty(stack),
            slope_variance=np.empty(stack),
            reach=np.empty(stack),
            cross=np.empty(stack),
            push=np.empty(stack),
            pull=np.empty(stack),
            log_weight=np.zeros(stack),
            log_likelihood=np.zeros(shape),
            odd=np.empty((n, series)),
            jumped=np.zeros((n, series)),
            jump_size=np.zeros((n, series)),
            expected=np.empty((n, series)),
            expected_variance=np.empty((n, series)),
        )
        return _Workspace(
            outcome,
            level=np.zeros(shape),
            slope=np.zeros(shape),
            variance=np.full(shape, grid.prior_level_variance),
            cross=np.zeros(shape),
            slope_variance=np.full(shape, grid.prior_slope_variance),
            weight=np.full(shape, -np.log(grid.n_points)),
        )


def _advance(work: _Workspace, batch: SeriesBatch, grid: TrendGrid, step: int, active: int) -> None:
    """One session of the first ``active`` series: predict, weigh, update, keep."""
    gap = batch.days[step, :active] - batch.days[step - 1, :active] if step else np.zeros(active)
    _predict(work, grid, gap[:, None], batch.jump_variance[step, :active, None], active)
    noise = batch.noise_variance[step, :active, None]
    error = batch.values[step, :active, None] - work.level[:active]
    narrow = work.variance[:active] + grid.session_variance + noise
    wide = narrow + (grid.odd_factor - 1.0) * grid.session_variance
    out = work.outcome
    before = np.exp(work.weight[:active])
    _keep_expectation(out, step, active, before, work.level[:active], narrow)
    weights = _hypotheses(grid, error, (narrow, wide, narrow + grid.jump_variance))
    log_density = np.log(weights.density) - 0.5 * np.log(2.0 * np.pi)
    out.log_likelihood[:active] += log_density
    _reweigh(work, grid, gap, log_density, active)
    out.odd[step, :active] = np.einsum("sg,sg->s", weights.odd, np.exp(work.weight[:active]))
    of_grid = np.exp(work.weight[:active])
    out.jumped[step, :active] = np.einsum("sg,sg->s", weights.jumped, of_grid)
    out.jump_size[step, :active] = np.einsum("sg,sg->s", grid.jump_variance * weights.precisions[2] * error, of_grid)
    _update(work, grid, step, active, error, weights)


@dataclass(frozen=True)
class _Hypotheses:
    """A usual session, an odd one, one before which the level jumped: posterior shares, and their precisions."""

    usual: Floats
    odd: Floats
    jumped: Floats
    precisions: tuple[Floats, Floats, Floats]
    density: Floats


def _hypotheses(grid: TrendGrid, error: Floats, variances: tuple[Floats, Floats, Floats]) -> _Hypotheses:
    square = error * error
    prior = (1.0 - grid.odd_share - grid.jump_share, grid.odd_share, grid.jump_share)
    parts = [
        share * np.exp(-0.5 * square / variance) / np.sqrt(variance) for share, variance in zip(prior, variances, strict=True)
    ]
    density = parts[0] + parts[1] + parts[2] + 1e-300
    usual, odd, jumped = (part / density for part in parts)
    return _Hypotheses(usual, odd, jumped, (1.0 / variances[0], 1.0 / variances[1], 1.0 / variances[2]), density)


def _predict(work: _Workspace, grid: TrendGrid, gap: Floats, jump: Floats, active: int) -> None:
    work.level[:active] += gap * work.slope[:active]
    slope_variance, cross = work.slope_variance[:active], work.cross[:active]
    work.variance[:active] += gap * (2.0 * cross + gap * slope_variance + grid.level_variance) + jump
    work.variance[:active] += gap**3 / 3.0 * grid.slope_variance
    cross += gap * (slope_variance + gap / 2.0 * grid.slope_variance)
    slope_variance += gap * grid.slope_variance


def _keep_expectation(out: FilterPass, step: int, active: int, weight: Floats, level: Floats, variance: Floats) -> None:
    mean = np.einsum("sg,sg->s", weight, level)
    out.expected[step, :active] = mean
    spread = np.einsum("sg,sg->s", weight, variance + (level - mean[:, None]) ** 2)
    out.expected_variance[step, :active] = spread if step else np.inf


def _reweigh(work: _Workspace, grid: TrendGrid, gap: Floats, log_density: Floats, active: int) -> None:
    weight = work.weight[:active]
    if np.isfinite(grid.weight_half_life_days):
        weight *= np.exp2(-gap / grid.weight_half_life_days)[:, None]
    weight += log_density
    weight -= weight.max(axis=1, keepdims=True)
    weight -= np.log(np.exp(weight).sum(axis=1, keepdims=True))


def _update(work: _Workspace, grid: TrendGrid, step: int, active: int, error: Floats, said: _Hypotheses) -> None:
    """State after the session, hypotheses collapsed to their mean and variance.

    The jump is a variable of its own that is added to the level: ``tilt`` is by how much its covariance with whatever is
    correlated with the level lowers that correlation, and is kept as a larger reach for the copy of an earlier level.
    """
    out = work.outcome
    before, cross = work.variance[:active], work.cross[:active]
    square = error * error
    precision, odd_precision, jump_precision = said.precisions
    gain = said.usual * precision + said.odd * odd_precision + said.jumped * jump_precision
    squares = said.usual * precision**2 + said.odd * odd_precision**2 + said.jumped * jump_precision**2
    push, pull = gain * error, gain - square * (squares - gain * gain)
    share = grid.jump_variance * jump_precision  # of the error that is the jump's, when there was one
    jump = said.jumped * share * error
    tilt = said.jumped * share * (1.0 - square * (jump_precision - gain))
    jump_variance = said.jumped * (grid.jump_variance * (1.0 - share) + square * share * share * (1.0 - said.jumped))
    out.reach[step, :active] = before + np.divide(tilt, pull, out=np.zeros_like(tilt), where=tilt != 0.0)
    out.cross[step, :active] = cross
    out.push[step, :active], out.pull[step, :active] = push, pull
    work.level[:active] += before * push + jump
    work.slope[:active] += cross * push
    work.slope_variance[:active] -= cross * cross * pull
    cross *= 1.0 - before * pull - tilt
    work.variance[:active] = before * (1.0 - before * pull - 2.0 * tilt) + jump_variance
    out.level[step, :active], out.slope[step, :active] = work.level[:active], work.slope[:active]
    out.level_variance[step, :active], out.covariance[step, :active] = work.variance[:active], cross
    out.slope_variance[step, :active], out.log_weight[step, :active] = work.slope_variance[:active], work.weight[:active]
