from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pipelines.measures.trend.stall import (
    BENDS,
    BENDS_COUNT_AS,
    FEWEST_SINCE,
    RISE_DAYS,
    RISE_SURELY,
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


def test_the_score_is_that_of_a_regression_with_a_bend() -> None:
    rng = np.random.default_rng(3)
    values, variances = 0.08 * np.minimum(DAYS, 118.0) + rng.standard_normal(DAYS.size), rng.uniform(0.5, 2.0, DAYS.size)
    found = []
    for lag in BENDS:
        k = DAYS[-1] - lag
        rows = k - RISE_DAYS[1] <= DAYS
        t = DAYS[rows] - k
        design = np.stack([np.ones_like(t), t, np.maximum(t, 0.0)], axis=1) / np.sqrt(variances[rows])[:, None]
        covariance = np.linalg.inv(design.T @ design)
        _, slope, change = covariance @ design.T @ (values[rows] / np.sqrt(variances[rows]))
        error = (covariance[1, 1] + covariance[2, 2] + 2.0 * covariance[1, 2]) ** 0.5
        found.append((-change / covariance[2, 2] ** 0.5, slope / covariance[1, 1] ** 0.5, slope, slope + change, error))
    score, surely, slope, since, error = max(found)
    assert surely >= RISE_SURELY
    assert slope * 28 >= 0.3
    assert since <= slope / 2
    said = stall_scores([Stretch(DAYS, values, variances, np.zeros(DAYS.size))])[0][:, -1]
    assert said == pytest.approx([score, slope * 28.0], rel=1e-6)
    # of one who still grows it must surely lie below that growth
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
