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

    Arrays of grid points are (N - begin, S, G): session from ``begin`` on, series, grid point; the others (N, S). What lies
    beyond a series' length is undefined; so is what is told of sessions before ``begin``, but for the mean level.

    Attributes
    ----------
    begin : int
        The session from which on states are kept.
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
    mean_level : (N, S) array
        Level, averaged over the grid; 0 beyond a series' length.
    odd : (N, S) array
        Probability that the session was odd, averaged over the grid.
    jumped, jump_size : (N, S) arrays
        Probability that the level jumped just before the session, and by how much it then did, averaged over the grid.
    expected, expected_variance : (N, S) arrays
        Of the session's value, before it was known (level and session noise; ``inf`` variance at the first).
    """

    begin: int
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
    mean_level: Floats
    odd: Floats
    jumped: Floats
    jump_size: Floats
    expected: Floats
    expected_variance: Floats

    def states_after(self, steps: Integers) -> Floats:
        """State of each series after one of the sessions from ``begin`` on, (S, 6, G); 0 where the session is negative."""
        at, series = np.maximum(steps - self.begin, 0), np.arange(steps.size)
        told = (self.level, self.slope, self.level_variance, self.covariance, self.slope_variance, self.log_weight)
        states = np.stack([one[at, series] for one in told], axis=1)
        states[steps < 0] = 0.0
        return states


@dataclass(frozen=True)
class Start:
    """Where the filter of each of S series begins.

    Attributes
    ----------
    is_known : (S,) array of bool
        Whether a state stands from which it goes on; the others begin with their first session.
    state : (S, 6, G) array
        After the session before: level, slope, level variance, covariance, slope variance, log weight; as :class:`FilterPass` has
        them, relative to ``origin``.
    day, origin : (S,) arrays
        Day of that session [d], and the first value of the series [scale units].
    """

    is_known: NDArray[np.bool_]
    state: Floats
    day: Floats
    origin: Floats

    def of(self, chosen: Integers) -> Start:
        """Of some of the series."""
        return Start(self.is_known[chosen], self.state[chosen], self.day[chosen], self.origin[chosen])


def filter_pass(batch: SeriesBatch, grid: TrendGrid, begin: int = 0, start: Start | None = None) -> FilterPass:
    """The filter over all sessions of all series; series must be ordered by falling length.

    Parameters
    ----------
    batch : SeriesBatch
    grid : TrendGrid
    begin : int
        The session from which on states are kept; those before it only lead there.
    start : Start, optional
        States to go on from; what is then expected of the first session is not told.

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
    work = _Workspace.empty(batch, grid, begin)
    before = batch.days[0]
    if start is not None:
        work.go_on(start)
        before = np.where(start.is_known, start.day, before)
    for step in range(int(batch.lengths[0])):
        _advance(work, batch, grid, step, int(np.searchsorted(-batch.lengths, -step, side="left")), before)
        before = batch.days[step]
    return work.outcome


@dataclass
class _Workspace:
    """State of all series (S, G), and room for what a session makes of it."""

    outcome: FilterPass
    level: Floats
    slope: Floats
    variance: Floats
    cross: Floats
    slope_variance: Floats
    weight: Floats  # logarithm
    share: Floats  # weight itself
    spare: tuple[Floats, Floats]
    threefold: tuple[Floats, Floats, Floats, Floats]  # (3, S, G): of the three hypotheses

    @staticmethod
    def empty(batch: SeriesBatch, grid: TrendGrid, begin: int) -> _Workspace:
        n, series = batch.days.shape
        shape = (series, grid.n_points)
        stack = (max(n - begin, 0), *shape)
        told = ("slope", "level_variance", "covariance", "slope_variance", "reach", "cross", "push", "pull")
        outcome = FilterPass(
            begin=begin,
            level=np.zeros(stack),
            log_weight=np.zeros(stack),
            log_likelihood=np.zeros(shape),
            **{name: np.empty(stack) for name in told},
            **{name: np.zeros((n, series)) for name in ("mean_level", "jumped", "jump_size")},
            **{name: np.empty((n, series)) for name in ("odd", "expected")},
            expected_variance=np.full((n, series), np.inf),
        )
        weight = np.full(shape, -np.log(grid.n_points))
        return _Workspace(
            outcome,
            level=np.zeros(shape),
            slope=np.zeros(shape),
            variance=np.full(shape, grid.prior_level_variance),
            cross=np.zeros(shape),
            slope_variance=np.full(shape, grid.prior_slope_variance),
            weight=weight,
            share=np.exp(weight),
            spare=(np.empty(shape), np.empty(shape)),
            threefold=(np.empty((3, *shape)), np.empty((3, *shape)), np.empty((3, *shape)), np.empty((3, *shape))),
        )

    def go_on(self, start: Start) -> None:
        """Begin with the states that stand."""
        held = (self.level, self.slope, self.variance, self.cross, self.slope_variance, self.weight)
        for array, told in zip(held, np.moveaxis(start.state, 1, 0), strict=True):
            array[start.is_known] = told[start.is_known]
        np.exp(self.weight, out=self.share)


def _advance(work: _Workspace, batch: SeriesBatch, grid: TrendGrid, step: int, active: int, before: Floats) -> None:
    """One session of the first ``active`` series, the one before on a day ``before``: predict, weigh, update, keep."""
    gap = batch.days[step, :active] - before[:active]
    _predict(work, grid, gap[:, None], batch.jump_variance[step, :active, None], active)
    error = np.subtract(batch.values[step, :active, None], work.level[:active])
    narrow = work.variance[:active] + grid.session_variance
    narrow += batch.noise_variance[step, :active, None]
    out, is_kept = work.outcome, step >= work.outcome.begin
    if is_kept:
        _keep_expectation(out, step, active, work.share[:active], work.level[:active], narrow)
    said = _hypotheses(work, grid, error, narrow, active)
    log_density = np.log(said.density)
    log_density -= _LOG_ROOT
    out.log_likelihood[:active] += log_density
    _reweigh(work, grid, gap, log_density, active)
    share = grid.jump_variance * said.precision[2]  # of the error that is the jump's, when there was one
    if is_kept:
        of_grid = work.share[:active]
        out.odd[step, :active] = np.einsum("sg,sg->s", said.chance[1], of_grid)
        out.jumped[step, :active] = np.einsum("sg,sg->s", said.chance[2], of_grid)
        out.jump_size[step, :active] = np.einsum("sg,sg->s", share * error, of_grid)
    _update(work, grid, step, active, error, share, said)
    out.mean_level[step, :active] = np.einsum("sg,sg->s", work.share[:active], work.level[:active])


_LOG_ROOT = 0.5 * np.log(2.0 * np.pi)


@dataclass(frozen=True)
class _Hypotheses:
    """A usual session, an odd one, one before which the level jumped (3, S, G): chances after the session, and precisions.

    ``of_error``, ``of_square``: chances times precisions, and times their squares. ``density`` (S, G): of the session's value.
    """

    chance: Floats
    precision: Floats
    of_error: Floats
    of_square: Floats
    density: Floats


def _hypotheses(work: _Workspace, grid: TrendGrid, error: Floats, narrow: Floats, active: int) -> _Hypotheses:
    variance, chance, of_error, of_square = (one[:, :active] for one in work.threefold)
    variance[0] = narrow
    np.add(narrow, (grid.odd_factor - 1.0) * grid.session_variance, out=variance[1])
    np.add(narrow, grid.jump_variance, out=variance[2])
    np.divide(-0.5 * (error * error), variance, out=chance)
    np.exp(chance, out=chance)
    chance *= np.array((1.0 - grid.odd_share - grid.jump_share, grid.odd_share, grid.jump_share))[:, None, None]
    chance /= np.sqrt(variance, out=of_error)
    density = chance[0] + chance[1]
    density += chance[2]
    density += 1e-300
    chance /= density
    precision = np.divide(1.0, variance, out=variance)
    np.multiply(precision, precision, out=of_square)
    of_square *= chance
    return _Hypotheses(chance, precision, np.multiply(chance, precision, out=of_error), of_square, density)


def _predict(work: _Workspace, grid: TrendGrid, gap: Floats, jump: Floats, active: int) -> None:
    one, other = (spare[:active] for spare in work.spare)
    variance, slope_variance, cross = work.variance[:active], work.slope_variance[:active], work.cross[:active]
    work.level[:active] += np.multiply(gap, work.slope[:active], out=one)
    np.multiply(cross, 2.0, out=one)
    one += np.multiply(gap, slope_variance, out=other)
    one += grid.level_variance
    one *= gap
    one += jump
    variance += one
    variance += np.multiply(gap**3 / 3.0, grid.slope_variance, out=one)
    np.multiply(gap / 2.0, grid.slope_variance, out=one)
    one += slope_variance
    one *= gap
    cross += one
    slope_variance += np.multiply(gap, grid.slope_variance, out=one)


def _keep_expectation(out: FilterPass, step: int, active: int, weight: Floats, level: Floats, variance: Floats) -> None:
    mean = np.einsum("sg,sg->s", weight, level)
    out.expected[step, :active] = mean
    spread = np.einsum("sg,sg->s", weight, variance + (level - mean[:, None]) ** 2)
    out.expected_variance[step, :active] = spread if step else np.inf


def _reweigh(work: _Workspace, grid: TrendGrid, gap: Floats, log_density: Floats, active: int) -> None:
    weight, share = work.weight[:active], work.share[:active]
    if np.isfinite(grid.weight_half_life_days):
        weight *= np.exp2(-gap / grid.weight_half_life_days)[:, None]
    weight += log_density
    weight -= weight.max(axis=1, keepdims=True)
    weight -= np.log(np.exp(weight, out=share).sum(axis=1, keepdims=True))
    np.exp(weight, out=share)


def _update(work: _Workspace, grid: TrendGrid, step: int, active: int, error: Floats, share: Floats, said: _Hypotheses) -> None:
    """State after the session, hypotheses collapsed to their mean and variance.

    The jump is a variable of its own that is added to the level: ``tilt`` is by how much its covariance with whatever is
    correlated with the level lowers that correlation, and is kept as a larger reach for the copy of an earlier level. ``share``:
    of the error, the jump's when there was one.
    """
    before, cross = work.variance[:active], work.cross[:active]
    square, jumped = error * error, said.chance[2]
    gain, squares = (one[0] + one[1] for one in (said.of_error, said.of_square))
    gain += said.of_error[2]
    squares += said.of_square[2]
    push, pull = gain * error, gain - square * (squares - gain * gain)
    of_jump = jumped * share
    tilt = of_jump * (1.0 - square * (said.precision[2] - gain))
    jump_variance = jumped * (grid.jump_variance * (1.0 - share) + square * share * share * (1.0 - jumped))
    if step >= work.outcome.begin:
        _keep_before(work.outcome, step, active, (before, cross, push, pull, tilt))
    work.level[:active] += before * push + of_jump * error
    work.slope[:active] += cross * push
    work.slope_variance[:active] -= cross * cross * pull
    left = 1.0 - before * pull
    cross *= left - tilt
    tilt *= 2.0
    left -= tilt
    before *= left
    before += jump_variance
    if step >= work.outcome.begin:
        _keep(work, step, active)


def _keep_before(out: FilterPass, step: int, active: int, told: tuple[Floats, Floats, Floats, Floats, Floats]) -> None:
    """What a copy of an earlier level needs to be carried over the session."""
    at = step - out.begin
    before, cross, push, pull, tilt = told
    larger = tilt / pull if tilt.all() else np.divide(tilt, pull, out=np.zeros_like(tilt), where=tilt != 0.0)
    np.add(before, larger, out=out.reach[at, :active])
    out.cross[at, :active], out.push[at, :active], out.pull[at, :active] = cross, push, pull


def _keep(work: _Workspace, step: int, active: int) -> None:
    """The state after the session."""
    out, at = work.outcome, step - work.outcome.begin
    out.level[at, :active], out.slope[at, :active] = work.level[:active], work.slope[:active]
    out.level_variance[at, :active], out.covariance[at, :active] = work.variance[:active], work.cross[:active]
    out.slope_variance[at, :active], out.log_weight[at, :active] = work.slope_variance[:active], work.weight[:active]
