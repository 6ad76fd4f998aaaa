"""Weekly prevalence (method of Clarsen 2013, abstract read) on an own example; Wilson's interval (formula common) on published
counts."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest
from scipy import stats

from pipelines.measures.problems.prevalence import weekly_prevalence

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


def one_week(n_with: int, n_total: int) -> tuple[float, float]:
    """Interval that the product gives a week in which so many of those who answered had a problem."""
    rows = [
        {"player_id": f"P{player:03d}", "week_ending": date(2026, 3, 1), "is_problem": player < n_with, "is_substantial": False}
        for player in range(n_total)
    ]
    week = weekly_prevalence(pl.DataFrame(rows)).row(0, named=True)
    return week["any_low"], week["any_high"]


@pytest.mark.parametrize(
    ("n_with", "n_total", "low", "high"),
    [
        (4, 12, 13.8, 60.9),  # own example
        (38, 128, 22.5, 38.1),  # [Hawkes2013] (abstract read): 38 of 128 golfers with wrist problems; interval by the formula
    ],
)
def test_interval_of_a_week(n_with: int, n_total: int, low: float, high: float) -> None:
    found = one_week(n_with, n_total)
    assert (100 * found[0], 100 * found[1]) == pytest.approx((low, high), abs=0.05)


@pytest.mark.parametrize(("n_with", "n_total"), [(0, 5), (1, 7), (38, 128), (20, 20)])
def test_the_interval_is_that_of_the_reference_library(n_with: int, n_total: int) -> None:
    other = stats.binomtest(n_with, n_total).proportion_ci(0.95, method="wilson")
    assert one_week(n_with, n_total) == pytest.approx((other.low, other.high), abs=1e-12)
