from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.since.normal import normal_since
from pipelines.measures.trial.body import body_side, load_ratio, report_change
from pipelines.measures.trial.phases import phase_change

RNG = np.random.default_rng(17)
BEFORE = RNG.normal(45.0, 0.3, 20)


def test_a_normal_that_is_the_same_is_shown_to_be_back():
    found = normal_since(BEFORE, RNG.normal(BEFORE.mean(), 0.3, 12), 0.45)
    assert found is not None
    assert found.state == "back"
    assert found.more_sessions is None


def test_a_normal_that_moved_by_twice_the_margin_is_not_back():
    found = normal_since(BEFORE, RNG.normal(BEFORE.mean() + 0.9, 0.3, 12), 0.45)
    assert found is not None
    assert found.state == "not_back"


def test_absence_of_proof_is_no_proof_of_absence():
    # two noisy sessions: no difference is shown, and no equality either
    found = normal_since(BEFORE, np.array([44.4, 45.7]), 0.2)
    assert found is not None
    assert found.low < 0 < found.high
    assert found.state == "not_clear"


def test_more_sessions_are_proposed_where_they_would_settle_it():
    found = normal_since(BEFORE, BEFORE.mean() + np.array([0.35, -0.25]), 0.3)
    assert found is not None
    assert found.state == "not_clear"
    assert found.more_sessions is not None
    assert 1 <= found.more_sessions <= 30


def test_how_often_an_unchanged_or_moved_normal_is_called_back():
    rng = np.random.default_rng(2)
    same = [normal_since(rng.normal(0, 0.7, 15), rng.normal(0, 0.7, 8), 1.0) for _ in range(300)]
    edge = [normal_since(rng.normal(0, 0.7, 15), rng.normal(1.0, 0.7, 8), 1.0) for _ in range(300)]
    # at the margin itself "back" may be said in at most one of ten; four standard errors on top
    assert sum(one is not None and one.state == "back" for one in same) / 300 > 0.9
    assert sum(one is not None and one.state == "back" for one in edge) / 300 < 0.10 + 4 * 0.0173


def test_too_few_sessions_give_none():
    assert normal_since(BEFORE[:3], BEFORE[:5], 0.4) is None
    assert normal_since(BEFORE, BEFORE[:1], 0.4) is None


def test_change_over_a_phase_is_the_slope_of_a_straight_line():
    days = np.array([0.0, 7, 14, 21, 28])
    found = phase_change(days, 45 + 0.02 * days, np.ones(5), 28.0)
    assert found is not None
    assert found.change == pytest.approx(0.56, abs=1e-9)
    assert phase_change(days[:4], days[:4], np.ones(4), 28.0) is None
    assert phase_change(days / 7, days, np.ones(5), 28.0) is None


def test_change_over_a_phase_equals_scipy():
    from scipy.stats import linregress  # noqa: PLC0415

    days, values = np.arange(0.0, 40, 4), np.random.default_rng(3).normal(45, 0.4, 10)
    expected = linregress(days, values)
    found = phase_change(days, values, np.ones(10), 36.0)
    assert found is not None
    assert found.change == pytest.approx(36 * expected.slope, rel=1e-9)
    # t quantile .95 with 8 degrees of freedom is 1.8595
    assert found.high - found.change == pytest.approx(1.8595 * 36 * expected.stderr, rel=1e-4)


def test_a_rating_that_rose_by_three_points_asks_and_a_steady_one_does_not():
    rng = np.random.default_rng(5)
    before, calm, raised = rng.normal(2, 0.8, 24), rng.normal(2, 0.8, 9), rng.normal(5, 0.8, 9)
    steady, risen = report_change(before, calm), report_change(before, raised)
    assert body_side([steady], 1.1) == "calm"
    assert body_side([steady, risen], 1.1) == "ask"
    assert body_side([steady], 1.7) == "ask"
    assert body_side([None], None) == "unknown"
    assert report_change(before[:5], calm) is None


def test_load_is_swings_a_day_over_swings_a_day():
    assert load_ratio(10.0, 15.0) == pytest.approx(1.5)
    assert load_ratio(0.0, 15.0) is None
    assert load_ratio(None, 15.0) is None
    assert load_ratio(10.0, None) is None
