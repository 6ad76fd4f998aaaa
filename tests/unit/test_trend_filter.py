from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from pipelines.measures.trend.change import four_week_change, last_session_before
from pipelines.measures.trend.filter import filter_pass
from pipelines.measures.trend.grid import TrendGrid, standard_grid
from pipelines.measures.trend.points import TrendPoints, change_width, interval_width, trend_history
from pipelines.measures.trend.series import SeriesBatch, packed

NOISE = 0.1


def simulated(seed: int, lengths: tuple[int, ...], shift_at: int | None = None) -> SeriesBatch:
    rng = np.random.default_rng(seed)
    series = np.repeat(np.arange(len(lengths)), lengths)
    days = np.concatenate([np.cumsum(rng.integers(1, 5, length)) for length in lengths]).astype(float)
    values = rng.normal(50.0, 0.8, days.size)
    jump = np.zeros(days.size)
    if shift_at is not None:
        jump[shift_at] = 100.0
        values[shift_at:] += 4.0
    return packed(series, len(lengths), days, values, np.full(days.size, NOISE), jump)


def clone_filter(days: np.ndarray, values: np.ndarray, tau2: float, q_level: float, q_slope: float) -> tuple[float, float]:
    """Plain Kalman filter with level, slope and a copy of the level of four weeks ago as third state."""

    def ahead(mean: np.ndarray, cov: np.ndarray, d: float) -> tuple[np.ndarray, np.ndarray]:
        f = np.array([[1.0, d, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
        q = np.zeros((3, 3))
        q[:2, :2] = q_level * np.array([[d, 0.0], [0.0, 0.0]]) + q_slope * np.array([[d**3 / 3, d**2 / 2], [d**2 / 2, d]])
        return f @ mean, f @ cov @ f.T + q

    mean, cov = np.zeros(3), np.diag([1e4, (2 / 28) ** 2, 0.0])
    moment, before, cloned = days[-1] - 28.0, days[0], False
    for day, value in zip(days, values, strict=True):
        if not cloned and day > moment:
            mean, cov = ahead(mean, cov, moment - before)
            copy = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
            mean, cov, before, cloned = copy @ mean, copy @ cov @ copy.T, moment, True
        mean, cov = ahead(mean, cov, day - before)
        gain = cov[:, 0] / (cov[0, 0] + tau2 + NOISE)
        mean, cov, before = mean + gain * (value - mean[0]), cov - np.outer(gain, cov[0]), day
    contrast = np.array([1.0, 0.0, -1.0])
    return float(contrast @ mean), float(contrast @ cov @ contrast)


def test_four_week_change_equals_a_filter_with_the_clone_as_third_state() -> None:
    batch = simulated(1, (40,))
    tau2, q_level, q_slope = 0.5, 0.02, 1e-4
    grid = TrendGrid(np.array([tau2]), np.array([q_level]), np.array([q_slope]), odd_share=0.0)
    done = filter_pass(batch, grid)
    change = four_week_change(batch, grid, done, np.array([39]), np.array([0]), last_session_before(batch)[[39], [0]])
    expected = clone_filter(batch.days[:, 0], batch.values[:, 0], tau2, q_level, q_slope)
    assert (change.mean[0, 0], change.variance[0, 0]) == pytest.approx(expected, rel=1e-9)


def test_the_change_is_told_from_the_last_session_that_is_four_weeks_old() -> None:
    batch = SeriesBatch(*(np.array([[day] for day in (0.0, 5.0, 28.0, 33.0, 80.0)]) for _ in range(4)), np.array([4]))
    assert last_session_before(batch)[:, 0].tolist() == [-1, -1, 0, 1, -1]


@pytest.mark.parametrize("states", [90, 8000])
def test_points_are_the_same_from_whichever_session_on_they_are_asked_for(states: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """States of sessions that nothing reads are not kept: to the last digit nothing else is said."""
    batch = simulated(6, (120, 90, 41, 8, 2))
    batch.values[60:, 1] += 6.0  # a jump, whose intervals reach there for three sessions
    worthwhile = np.ones_like(batch.days)
    whole, levels, _ = trend_history(batch, worthwhile, standard_grid())
    there = np.arange(120)[:, None] < batch.lengths
    monkeypatch.setattr("pipelines.measures.trend.points._STATES_AT_ONCE", states)
    for first in ([119, 61, 40, 0, 1], [70, 60, 3, 5, 0], [0, 62, 20, 7, 0]):
        some, again, _ = trend_history(batch, worthwhile, standard_grid(), np.array(first))
        told = whole.steps >= np.array(first)[whole.series]
        for field in fields(whole):
            np.testing.assert_array_equal(getattr(some, field.name), getattr(whole, field.name)[told])
        np.testing.assert_array_equal(again[there], levels[there])


def test_series_do_not_touch_each_other() -> None:
    batch = simulated(2, (30, 12, 55))
    together = trend_history(batch, np.ones_like(batch.days), standard_grid())[0]
    for column in range(3):
        one = batch.columns(np.array([column]))
        alone = trend_history(one, np.ones_like(one.days), standard_grid())[0]
        rows = together.series == column
        np.testing.assert_allclose(together.level[rows], alone.level, rtol=1e-12)
        np.testing.assert_allclose(together.p_up[rows], alone.p_up, rtol=1e-9, atol=1e-12)


def trend_now(batch: SeriesBatch) -> TrendPoints:
    """The points of the last session of each series."""
    points = trend_history(batch, np.ones_like(batch.days), standard_grid())[0]
    last = [int(np.flatnonzero(points.series == series)[-1]) for series in range(batch.lengths.size)]
    return replace(points, **{field.name: getattr(points, field.name)[last] for field in fields(points)})


def test_a_point_does_not_know_what_comes_after_it() -> None:
    batch = simulated(3, (50,))
    whole = trend_history(batch, np.ones_like(batch.days), standard_grid())[0]
    cut = SeriesBatch(
        batch.days[:20], batch.values[:20], batch.noise_variance[:20], batch.jump_variance[:20], np.array([20], dtype=np.int64)
    )
    short = trend_now(cut)
    assert short.level[0] == pytest.approx(whole.level[19], rel=1e-12)
    assert short.change[0] == pytest.approx(whole.change[19], rel=1e-9, abs=1e-12)


def test_an_odd_session_is_marked_and_hardly_moves_the_level() -> None:
    batch = simulated(4, (40,))
    values = batch.values.copy()
    values[-1] = 58.0
    odd = SeriesBatch(batch.days, values, batch.noise_variance, batch.jump_variance, batch.lengths)
    before, after = (
        trend_now(batch),
        trend_now(odd),
    )
    assert after.odd[0] > 0.8  # or the level has jumped: one session cannot tell
    assert before.odd[0] < 0.5
    assert abs(after.level[0] - before.level[0]) < 1.5
    assert after.level_sd[0] > 2.0 * before.level_sd[0]


def test_a_dated_shift_lets_the_level_jump() -> None:
    shifted = simulated(5, (44,), shift_at=40)
    told = trend_now(shifted)
    untold = SeriesBatch(shifted.days, shifted.values, shifted.noise_variance, np.zeros_like(shifted.days), shifted.lengths)
    at = untold.lengths - 1
    blind = trend_history(untold, np.ones_like(untold.days), replace(standard_grid(), jump_share=0.0))[0]
    blind = TrendPoints(**{one.name: getattr(blind, one.name)[at] for one in fields(TrendPoints)})
    assert abs(told.level[0] - 54.0) < 0.8
    assert abs(told.level[0] - 54.0) < abs(blind.level[0] - 54.0)


def test_a_level_that_surely_jumps_is_a_filter_with_that_variance_at_each_session() -> None:
    batch, limit = simulated(7, (40,)), np.ones((40, 1))
    one = TrendGrid(np.array([0.5]), np.array([0.01]), np.array([1e-5]), odd_share=0.0)
    jumping = trend_history(batch, limit, replace(one, jump_share=1.0 - 1e-12, jump_variance=0.3))[0]
    jumps = np.full_like(batch.days, 0.3)
    told = trend_history(SeriesBatch(batch.days, batch.values, batch.noise_variance, jumps, batch.lengths), limit, one)[0]
    np.testing.assert_allclose(jumping.level, told.level, rtol=1e-6)
    np.testing.assert_allclose(jumping.change, told.change, rtol=1e-5, atol=1e-8)


def test_the_interval_reaches_where_the_level_would_have_jumped_to() -> None:
    shifted = simulated(5, (42,), shift_at=40)
    untold = SeriesBatch(shifted.days, shifted.values, shifted.noise_variance, np.zeros_like(shifted.days), shifted.lengths)
    points = trend_history(untold, np.ones_like(untold.days), standard_grid())[0]
    wide, narrow = points.level_sd[40:], points.level_sd[30:40].max()
    assert (np.abs(points.level[40:] - 54.0) <= 1.645 * wide).all()
    assert wide[0] > 1.5 * narrow


def test_what_intervals_are_drawn_in_by_leaves_them_reaching_there() -> None:
    """Own simulation: steps of 2.5 sizes in 200 series, the five sessions after each; form is thought to resemble by .05."""
    rng = np.random.default_rng(12)
    days = np.tile(np.arange(40.0)[:, None] * 3.0, (1, 200))
    values = 50.0 + rng.normal(0.0, 0.75, days.shape) - np.where(days >= 105.0, 2.5, 0.0)
    none = np.zeros_like(days)
    batch = SeriesBatch(days, values, none + 0.05, none, np.full(200, 40, dtype=np.int64))
    points = trend_history(batch, np.ones_like(days), standard_grid())[0]
    after = points.steps >= 35
    held = np.abs(points.level - 47.5) <= 1.645 * interval_width(np.full(points.steps.size, 0.05)) * points.level_sd
    assert held[after].mean() > 0.86
    assert held[points.steps == 35].mean() > 0.77
    known = points.steps >= 20  # by sessions that tell little a jump has a chance too, which flags doubt and pages need not
    assert (points.level_error <= points.level_sd)[known].mean() > 0.95  # what flags doubt of the level is less
    assert (points.level_error[points.steps == 35] < 0.85 * points.level_sd[points.steps == 35]).mean() > 0.8


def test_the_error_of_a_change_is_smaller_where_few_sessions_tell_slopes_apart() -> None:
    few = change_width(np.array([1.0, 4.0, 8.0, 12.0, 30.0]))
    np.testing.assert_allclose(few, [0.7, 0.714, 0.778, 0.842, 0.88])


def _noisy(seed: int, n_series: int, step: float, first_after: float, dated: float = 0.0) -> TrendPoints:
    """Once a week, sessions that say as little as those of a pattern do; a step somewhere in a gap after day 200."""
    rng = np.random.default_rng(seed)
    days = np.tile(np.append(np.arange(29.0) * 7.0, first_after + np.arange(6.0) * 7.0)[:, None], (1, n_series))
    noise = np.full_like(days, 1.2)
    values = 50.0 + rng.normal(0.0, np.sqrt(0.64 + noise)) + np.where(days > 200.0, step, 0.0)
    jumps = np.where(days == first_after, dated, 0.0)
    batch = SeriesBatch(days, values, noise, jumps, np.full(n_series, days.shape[0], dtype=np.int64))
    return trend_history(batch, np.ones_like(days), standard_grid())[0]


def test_a_noisy_session_as_expected_widens_no_interval_for_a_jump() -> None:
    """The chance of a jump beside such a session is the one there was: it was enough to widen most intervals of scatter."""
    points = _noisy(21, 100, 0.0, 203.0)
    late = points.steps >= 20
    held = np.abs(points.level - 50.0) <= 1.645 * interval_width(np.full(points.steps.size, 0.05)) * points.level_sd
    assert held[late].mean() < 0.96
    assert np.median(points.level_sd[late]) < 0.9
    assert np.median(points.level_error[late]) > np.median(points.level_sd[late])


def test_the_change_of_one_who_stepped_within_four_weeks_holds_whenever_in_a_gap_it_was() -> None:
    """Own simulation; the third session after: sessions since have moved the level of then, or that lies in the gap."""
    for first_after, changes in ((210.0, (4.5,)), (224.0, (0.0, 4.5))):
        points = _noisy(22, 150, 4.5, first_after)
        at = points.steps == 31
        width = 1.645 * interval_width(np.full(at.sum(), 0.05)) * points.change_sd[at]
        assert all((np.abs(points.change[at] - change) <= width).mean() > 0.8 for change in changes)


def test_where_a_chart_has_dated_the_step_nobody_knows_when_in_the_gap_it_was_either() -> None:
    """The filter is free to jump there and takes nothing for a jump by chance: .13 of changes from after the step were held."""
    points = _noisy(22, 150, 4.5, 224.0, dated=25.0)
    at = points.steps == 31
    width = 1.645 * interval_width(np.full(at.sum(), 0.05)) * points.change_sd[at]
    assert all((np.abs(points.change[at] - change) <= width).mean() > 0.75 for change in (0.0, 4.5))


def test_a_jump_that_the_next_sessions_do_not_tell_widens_no_change_where_gaps_are_short() -> None:
    """A steady rise: beside most sessions a jump was held possible, and half of all changes twice as unsure."""
    days = np.tile(np.cumsum(np.tile([2.0, 2.0, 3.0], 20))[:, None], (1, 60))
    values = 50.0 + 0.085 * days + np.random.default_rng(23).normal(0.0, 0.7, days.shape)
    batch = SeriesBatch(days, values, np.full_like(days, 0.1), np.zeros_like(days), np.full(60, days.shape[0], dtype=np.int64))
    points = trend_history(batch, np.ones_like(days), standard_grid())[0]
    late = points.steps >= 30
    width = 1.645 * interval_width(np.full(late.sum(), 0.05)) * points.change_sd[late]
    assert np.median(points.change_sd[late]) < 0.6
    assert 0.85 < (np.abs(points.change[late] - 28 * 0.085) <= width).mean() < 0.95


def test_no_change_before_four_weeks_of_history() -> None:
    batch = simulated(6, (30,))
    points = trend_history(batch, np.ones_like(batch.days), standard_grid())[0]
    first = int(np.flatnonzero(points.change_known)[0])
    assert not points.change_known[:first].any()
    assert points.change[0] == 0.0
    assert np.isinf(points.expected_sd[0])


def test_arrays_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="one shape"):
        SeriesBatch(np.zeros((2, 1)), np.zeros((3, 1)), np.zeros((2, 1)), np.zeros((2, 1)), np.ones(1, dtype=np.int64))
    with pytest.raises(ValueError, match="falling length"):
        filter_pass(simulated(7, (5, 9)), standard_grid())
