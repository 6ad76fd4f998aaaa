"""Intervals of shares and counts, and the number of rounds, against printed tables and a reference library."""

from __future__ import annotations

import pytest
from statsmodels.stats.power import TTestIndPower
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from pipelines.measures.intervals import count_interval, share_interval
from pipelines.measures.strokes.rounds import ScoreSpread, rounds_to_see


@pytest.mark.parametrize(("count", "low", "high"), [(0, 0.0, 3.69), (1, 0.025, 5.57), (10, 4.80, 18.39)])
def test_the_limits_of_a_poisson_count_are_those_printed(count: int, low: float, high: float) -> None:
    """[Garwood1936], 95 %: from memory, as tables of exact Poisson limits print them."""
    assert count_interval(count, 1.0, 0.95) == pytest.approx((low, high), abs=0.005)


@pytest.mark.parametrize(("count", "exposure"), [(0, 2.0), (3, 1.5), (27, 40.0)])
def test_a_rate_has_the_interval_of_a_reference_library(count: int, exposure: float) -> None:
    wanted = confint_poisson(count, exposure, method="exact-c", alpha=0.10)
    assert count_interval(count, exposure) == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(("hits", "tries"), [(1, 14), (7, 14), (40, 56), (55, 56)])
def test_a_share_has_the_interval_of_a_reference_library(hits: int, tries: int) -> None:
    """[BrownCaiDasGupta2001] by statsmodels."""
    assert share_interval(hits, tries) == pytest.approx(proportion_confint(hits, tries, alpha=0.10, method="jeffreys"), rel=1e-9)


def test_half_a_standard_deviation_takes_the_number_printed() -> None:
    """[Cohen1988]: two-sided .10, power .80, d = .50: 50 of each; from memory."""
    assert rounds_to_see(1.5, ScoreSpread(3.0, 30.0)) == 50


@pytest.mark.parametrize("change", [-0.6, 1.0, 2.4])
def test_the_number_of_rounds_is_that_of_a_reference_library(change: float) -> None:
    wanted = TTestIndPower().solve_power(effect_size=abs(change) / 3.2, alpha=0.10, power=0.80)
    assert rounds_to_see(change, ScoreSpread(3.2, 30.0)) == pytest.approx(wanted, abs=2.0)
