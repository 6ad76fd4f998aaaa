"""Burden is incidence times mean severity (Fuller 2023, abstract read). The squad is own, values by plain arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.problems.burden import injury_burden

DAYS = np.array([3.0, 7.0, 14.0, 28.0, 10.0, 0.0, 0.0, 0.0])
INJURIES = np.array([1, 1, 1, 1, 1, 0, 0, 0])
HOURS = np.full(8, 300.0)


def test_incidence_and_burden() -> None:
    found = injury_burden(INJURIES, DAYS, HOURS, np.random.default_rng(1))
    assert found is not None
    assert found.incidence == pytest.approx(2.083, abs=5e-4)
    assert found.mean_days == pytest.approx(12.4)
    assert found.burden == pytest.approx(25.83, abs=0.005)
    assert found.incidence * found.mean_days == pytest.approx(found.burden)


def test_the_median_would_give_another_number() -> None:
    assert 5 / 2.4 * float(np.median(DAYS[:5])) == pytest.approx(20.83, abs=0.005)


def test_intervals_over_players_hold_the_estimate_and_are_repeatable() -> None:
    one = injury_burden(INJURIES, DAYS, HOURS, np.random.default_rng(2))
    two = injury_burden(INJURIES, DAYS, HOURS, np.random.default_rng(2))
    assert one == two
    assert one is not None
    assert one.burden_low is not None
    assert one.burden_high is not None
    assert one.burden_low < one.burden < one.burden_high


def test_of_no_injury_the_incidence_is_at_most_the_printed_limit() -> None:
    """[Garwood1936]: a count of none has the 95 % limits 0 and 3.69; from memory, as printed tables of exact limits have it."""
    found = injury_burden(np.zeros(3, dtype=int), np.zeros(3), np.array([4000.0, 3000.0, 878.0]), np.random.default_rng(1))
    assert found is not None
    assert (found.n, found.incidence, found.mean_days, found.burden) == (0, 0.0, None, 0.0)
    assert found.incidence_low == 0.0
    assert found.incidence_high == pytest.approx(3.69 / 7.878, abs=0.001)
    assert (found.burden_low, found.burden_high) == (None, None)


def test_no_exposure_no_number_and_few_players_no_interval() -> None:
    rng = np.random.default_rng(3)
    assert injury_burden(INJURIES, DAYS, np.zeros(8), rng) is None
    few = injury_burden(INJURIES[:3], DAYS[:3], HOURS[:3], rng)
    assert few is not None
    assert few.burden_low is None
