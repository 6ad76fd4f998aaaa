from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pipelines.measures.trend.stall import (
    BENDS,
    BENDS_COUNT_AS,
    FEWEST_RISING,
    FEWEST_SINCE,
    RISE_DAYS,
    RISE_SURELY,
    START_COSTS,
    START_LIKELIER,
    STARTS,
    Stretch,
    stall_p_value,
    stall_scores,
)

DAYS = np.arange(0.0, 160.0, 2.0)


def stall_scores_of(days: np.ndarray, values: np.ndarray, variances: np.ndarray, growth: np.ndarray) -> np.ndarray:
    """Scores of one series."""
    return stall_scores([Stretch(days, values, variances, growth)])[0][0]


def squad(seed: int, n: int, course: np.ndarray) -> np.ndarray:
    """Scores after each session of players whose level follows the course: (n, sessions)."""
    rng = np.random.default_rng(seed)
    ones, none = np.ones(DAYS.size), np.zeros(DAYS.size)
    return np.array([stall_scores_of(DAYS, course + rng.standard_normal(DAYS.size), ones, none) for _ in range(n)])


def _fitted(rows: np.ndarray, t: np.ndarray, values: np.ndarray, variances: np.ndarray, start: float) -> tuple[float, ...]:
    """Squares that are left, clearness, slope over its error, slope, slope since and its error, by the whole regression."""
    root = np.sqrt(variances[rows])
    design = np.stack([np.ones_like(t), np.maximum(t, -start), np.maximum(t, 0.0)], axis=1) / root[:, None]
    covariance = np.linalg.inv(design.T @ design)
    coefficients = covariance @ design.T @ (values[rows] / root)
    _, slope, change = coefficients
    left = float(((values[rows] / root - design @ coefficients) ** 2).sum())
    error = (covariance[1, 1] + covariance[2, 2] + 2.0 * covariance[1, 2]) ** 0.5
    return left, -change / covariance[2, 2] ** 0.5, slope / covariance[1, 1] ** 0.5, slope, slope + change, error


def _clearest(values: np.ndarray, variances: np.ndarray) -> tuple[tuple[float, ...], float]:
    """What a bend tells that fits best, and the start of its rise: the likeliest, a line where none is by far."""
    found = []
    for lag in BENDS:
        k = DAYS[-1] - lag
        rows = k - RISE_DAYS <= DAYS
        t = DAYS[rows] - k
        told = []
        for start in (np.inf, *STARTS):
            if start < np.inf and ((t < -start).sum() == 0 or ((t >= -start) & (t < 0)).sum() < FEWEST_RISING):
                continue
            one = _fitted(rows, t, values, variances, start)
            begins = start < np.inf
            told.append((one[0] + START_LIKELIER * begins, one[1] - START_COSTS * begins, *one[2:], start))
        found.append(min(told))
    best = max(found, key=lambda one: one[1])
    return best[1:-1], best[-1]


@pytest.mark.parametrize(("began", "start"), [(0.0, np.inf), (62.0, 63.0)])
def test_the_score_is_that_of_a_regression_with_a_bend(began: float, start: float) -> None:
    rng = np.random.default_rng(3)
    variances = rng.uniform(0.5, 2.0, DAYS.size)
    values = (0.08 if began == 0.0 else 0.16) * np.clip(DAYS, began, 118.0) + rng.standard_normal(DAYS.size)
    (score, surely, slope, since, _), told = _clearest(values, variances)
    assert told == start
    assert surely >= RISE_SURELY
    assert slope * 28 >= 0.3
    assert since <= slope / 2
    said = stall_scores([Stretch(DAYS, values, variances, np.zeros(DAYS.size))])[0][:, -1]
    assert said == pytest.approx([score, slope * 28.0], rel=1e-6)


def test_of_one_who_still_grows_it_must_surely_lie_below_that_growth() -> None:
    rng = np.random.default_rng(3)
    values, variances = 0.08 * np.minimum(DAYS, 118.0) + rng.standard_normal(DAYS.size), rng.uniform(0.5, 2.0, DAYS.size)
    (score, *_, since, error), _ = _clearest(values, variances)
    for away, expected in ((0.01 * error, score), (-0.01 * error, -np.inf)):
        growth = np.full(DAYS.size, since + 1.645 * error + away)
        assert stall_scores_of(DAYS, values, variances, growth)[-1] == pytest.approx(expected, rel=1e-6)


def test_a_rise_that_stops_is_said_within_eight_weeks() -> None:
    p_values = stall_p_value(squad(1, 40, 1.5 * np.minimum(DAYS, 90.0) / 28.0), np.zeros(DAYS.size))
    late = (DAYS >= 104) & (DAYS <= 146)
    assert np.mean((p_values[:, late] <= 0.01).any(axis=1)) >= 0.9
    assert np.mean((p_values[:, DAYS < 90] <= 0.01).any(axis=1)) <= 0.1


@pytest.mark.parametrize("course", [np.zeros(DAYS.size), 1.5 * DAYS / 28.0, 0.3 * DAYS / 28.0])
def test_nobody_who_stays_or_still_rises_has_small_chances_more_often_than_chance(course: np.ndarray) -> None:
    p_values = stall_p_value(squad(2, 300, course), np.zeros(DAYS.size))[:, -1]
    assert np.mean(p_values <= 0.05) <= 0.05


def test_a_good_month_of_one_who_stays_is_no_rise_that_stopped() -> None:
    """Nobody in 300 over 80 sessions each; with both parts tested alike it was one in fifteen."""
    p_values = stall_p_value(squad(4, 300, np.zeros(DAYS.size)), np.zeros(DAYS.size))
    assert np.mean((p_values <= 0.01).any(axis=1)) <= 0.005


def test_a_junior_who_grew_fast_and_still_grows_has_not_stalled() -> None:
    days = np.arange(0.0, 300.0, 2.0)
    course = 0.06 * np.minimum(days, 200.0) + 0.012 * np.maximum(days - 200.0, 0.0)
    values = course + 0.5 * np.random.default_rng(5).standard_normal(days.size)
    junior, adult = (stall_scores_of(days, values, np.full(days.size, 0.25), np.full(days.size, g))[-1] for g in (0.012, 0.0))
    assert adult > 4.0
    assert np.isneginf(junior)


def test_a_rise_after_a_level_winter_is_told_when_it_stops() -> None:
    """A line through the whole year takes the winter for a part of the rise, and the stop for noise."""
    days = np.arange(0.0, 400.0, 3.0)
    course = 1.2 * np.clip(days - 230.0, 0.0, 110.0) / 28.0
    values = course + 0.8 * np.random.default_rng(8).standard_normal(days.size)
    scores = stall_scores_of(days, values, np.full(days.size, 0.64), np.zeros(days.size))
    p_values = stall_p_value(scores, np.zeros(days.size))
    assert (p_values[(days >= 340) & (days <= 396)] <= 0.01).any()


def test_a_rise_that_began_within_the_year_is_measured_from_where_it_began() -> None:
    """40 players, twice a week, level for five months: a line through 120 days or the year tells .82 of them."""
    days = np.arange(0.0, 290.0, 3.5)
    course = 1.2 * np.clip(days - 150.0, 0.0, 84.0) / 28.0
    draws = 0.75 * np.random.default_rng(21).standard_normal((40, days.size))
    scores = stall_scores([Stretch(days, course + one, np.full(days.size, 0.75**2), np.zeros(days.size)) for one in draws])
    p_values = stall_p_value(np.array([one[0] for one in scores]), np.zeros(days.size))
    assert ((p_values <= 0.01) & (days > 234.0)).any(axis=1).mean() >= 0.9
    assert ((p_values <= 0.01) & (days <= 234.0)).any(axis=1).mean() <= 0.05


def test_a_slow_rise_is_not_steep_because_some_months_of_it_were() -> None:
    """.3 in 28 days for a year, and 1.2 beside it that came within 120 days and was gone 40 days later: form."""
    days = np.arange(0.0, 330.0, 2.5)
    beside = 1.2 * np.clip((days - 167.0) / 120.0, 0.0, 1.0) - 1.2 * np.clip((days - 287.0) / 40.0, 0.0, 1.0)
    scores, slopes = stall_scores([Stretch(days, 0.3 * days / 28.0 + beside, np.full(days.size, 0.64), np.zeros(days.size))])[0]
    assert stall_p_value(scores, np.zeros(days.size)).min() > 0.03
    assert 0.3 <= slopes[np.isfinite(scores)].min() <= slopes[np.isfinite(scores)].max() <= 0.45
    assert np.isnan(slopes[np.isneginf(scores)]).all()


def test_form_that_resembles_the_session_before_tells_less() -> None:
    plain, like = (stall_p_value(np.array([4.0]), np.array([r]))[0] for r in (0.0, 0.4))
    assert plain == pytest.approx(BENDS_COUNT_AS * stats.norm.sf(4.0))
    assert like == pytest.approx(BENDS_COUNT_AS * stats.norm.sf(4.0 / np.sqrt(1.4 / 0.6)))


def test_a_series_is_told_the_same_alone_and_beside_others() -> None:
    rng = np.random.default_rng(9)
    values = [0.08 * np.minimum(DAYS[: 80 - k], 118.0) + rng.standard_normal(80 - k) for k in range(0, 70, 3)]
    some = [
        Stretch(DAYS[: one.size] + 7.0 * k, one, np.full(one.size, 0.3), np.zeros(one.size), k) for k, one in enumerate(values)
    ]
    together = stall_scores(some)
    assert max(one[0].max() for one in together if one.size) > 6.0
    for stretch, scores in zip(some, together, strict=True):
        np.testing.assert_array_equal(scores, stall_scores([stretch])[0])


def test_too_few_sessions_are_not_tested() -> None:
    days = DAYS[: 12 + FEWEST_SINCE]
    scores = stall_scores_of(days, days, np.ones(days.size), np.zeros(days.size))
    assert np.isneginf(scores[:-1]).all()
    assert stall_p_value(np.array([-np.inf]), np.zeros(1))[0] == 1.0


def test_a_rise_of_one_who_comes_once_a_week_is_told_when_it_stops() -> None:
    """Sixty players: where six sessions must have come since the bend 35 are told within eight weeks."""
    rng = np.random.default_rng(31)
    told = before = 0
    for _ in range(60):
        days = np.flatnonzero(rng.random(322) < 1.0 / 7.0).astype(float)
        values = 1.2 * np.clip(days - 180.0, 0.0, 84.0) / 28.0 + 0.78 * rng.standard_normal(days.size)
        scores = stall_scores_of(days, values, np.full(days.size, 0.78**2), np.zeros(days.size))
        clear = stall_p_value(scores, np.zeros(days.size)) <= 0.1
        told, before = told + (clear & (days > 264.0)).any(), before + (clear & (days <= 264.0)).any()
    assert told >= 40
    assert before == 0
