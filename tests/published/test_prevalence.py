"""Weekly prevalence (method of Clarsen 2013, abstract read) on an own example; Wilson's interval (formula common) on published
counts."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest
from scipy import stats

from pipelines.measures.problems.prevalence import mean_prevalence, response_rate, weekly_prevalence, wilson_interval

ANSWERED, ANY, SUBSTANTIAL = (12, 11, 10, 12), (4, 3, 4, 3), (1, 1, 2, 1)


def _example() -> pl.DataFrame:
    rows = [
        {
            "player_id": f"P{player:02d}",
            "week_ending": date(2026, 3, 1) + timedelta(weeks=week),
            "is_problem": player < ANY[week],
            "is_substantial": player < SUBSTANTIAL[week],
        }
        for week in range(4)
        for player in range(ANSWERED[week])
    ]
    return weekly_prevalence(pl.DataFrame(rows))


def test_weekly_shares() -> None:
    assert (100 * _example()["share_any"]).to_list() == pytest.approx([33.33, 27.27, 40.00, 25.00], abs=0.005)


def test_mean_of_weeks_and_not_the_pooled_share() -> None:
    weeks = _example()
    mean = mean_prevalence(weeks, "share_any")
    assert mean is not None
    assert 100 * mean == pytest.approx(31.40, abs=0.005)
    assert 100 * weeks["n_any"].sum() / weeks["n_answered"].sum() == pytest.approx(31.11, abs=0.005)


def test_mean_substantial() -> None:
    mean = mean_prevalence(_example(), "share_substantial")
    assert mean is not None
    assert 100 * mean == pytest.approx(11.44, abs=0.005)


def test_response_rate() -> None:
    rate = response_rate(45, 48)
    assert rate is not None
    assert 100 * rate == pytest.approx(93.75, abs=0.005)
    assert response_rate(0, 0) is None


@pytest.mark.parametrize(
    ("n_with", "n_total", "low", "high"),
    [
        (4, 12, 13.8, 60.9),  # own example
        (38, 128, 22.5, 38.1),  # [Hawkes2013] (abstract read): 38 of 128 golfers with wrist problems; interval by the formula
    ],
)
def test_wilson(n_with: int, n_total: int, low: float, high: float) -> None:
    found = wilson_interval(n_with, n_total)
    assert found is not None
    assert (100 * found[0], 100 * found[1]) == pytest.approx((low, high), abs=0.05)


def test_wilson_agrees_with_the_reference_library() -> None:
    for n_with, n_total in ((0, 5), (1, 7), (38, 128), (20, 20)):
        other = stats.binomtest(n_with, n_total).proportion_ci(0.95, method="wilson")
        assert wilson_interval(n_with, n_total) == pytest.approx((other.low, other.high), abs=1e-12)


def test_the_frame_has_the_same_intervals() -> None:
    first = _example().row(0, named=True)
    assert (first["any_low"], first["any_high"]) == pytest.approx(wilson_interval(4, 12))


def test_published_response_rate() -> None:
    # [Hawkes2013] (abstract read): 128 of 153 answered, printed 83.7 %.
    rate = response_rate(128, 153)
    assert rate is not None
    assert 100 * rate == pytest.approx(83.7, abs=0.05)
