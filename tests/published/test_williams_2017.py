"""Williams, West, Cross & Stokes 2017, BJSM 51(3):209 (letter, read): weight 2/(N+1). Series are own, values by plain arithmetic.

The letter's three athletes (ratios 1.25, 1.41, 1.55 where rolling means give 1.43 for all) are not reproduced: their inputs
were not seen.
"""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.load.change import coupled_ratio
from pipelines.measures.load.grid import Floats, Readings
from pipelines.measures.load.windows import ewma, seeded_ewma


def seeded_ratio(daily: Floats) -> float:
    return float(seeded_ewma(daily, 7)[-1] / seeded_ewma(daily, 28)[-1])


def known(daily: Floats) -> Readings:
    return Readings(daily[None, :], np.ones((1, daily.size), dtype=np.bool_))


def test_weights_of_seven_and_twenty_eight_days() -> None:
    impulse = np.array([0.0, 1.0])
    assert seeded_ewma(impulse, 7)[1] == pytest.approx(0.25, abs=1e-12)
    assert seeded_ewma(impulse, 28)[1] == pytest.approx(0.068966, abs=5e-7)


def test_seeded_means_of_a_step() -> None:
    step = np.array([100.0] * 21 + [150.0] * 7)
    assert seeded_ewma(step, 7)[-1] == pytest.approx(143.3258, abs=5e-5)
    assert seeded_ewma(step, 28)[-1] == pytest.approx(119.6799, abs=5e-5)
    assert seeded_ratio(step) == pytest.approx(1.1976, abs=5e-5)


@pytest.mark.parametrize(
    ("last_week", "expected"),
    [
        ([300, 250, 200, 150, 100, 50, 0], 0.8468),
        ([150] * 7, 1.1976),
        ([0, 50, 100, 150, 200, 250, 300], 1.5169),
    ],
)
def test_order_matters_where_rolling_means_see_the_same(last_week: list[float], expected: float) -> None:
    daily = np.array([100.0] * 21 + [float(load) for load in last_week])
    assert coupled_ratio(daily) == pytest.approx(1.3333, abs=5e-5)
    assert seeded_ratio(daily) == pytest.approx(expected, abs=5e-5)


def test_lay_off_then_the_usual_week() -> None:
    daily = np.array([100.0] * 28 + [0.0] * 7 + [100.0] * 7)
    assert seeded_ratio(daily) == pytest.approx(1.1616, abs=5e-5)


def test_a_seed_keeps_its_weight_for_weeks() -> None:
    daily = np.array([300.0] + [100.0] * 27)
    assert seeded_ewma(daily, 28)[-1] == pytest.approx(129.05, abs=0.005)
    assert seeded_ewma(daily, 7)[-1] == pytest.approx(100.08, abs=0.005)
    # The weight left on the seed: 14.52 % of the surplus of 200.
    assert (seeded_ewma(daily, 28)[-1] - 100) / 200 == pytest.approx(0.1452, abs=5e-5)


def test_the_corrected_mean_has_no_seed() -> None:
    # Here the first day weighs what its age says: lambda (1-lambda)^27 / (1 - (1-lambda)^28).
    daily = np.array([300.0] + [100.0] * 27)
    share = (2 / 29) * (27 / 29) ** 27 / (1 - (27 / 29) ** 28)
    assert ewma(known(daily), 28).value[0, -1] == pytest.approx(100 + 200 * share, abs=1e-9)


def test_the_corrected_mean_agrees_with_the_data_frame_library() -> None:
    # polars documents ewm_mean(alpha .5, adjust) of 1, 2, 3, 4 as 1, 1.666667, 2.428571, 3.266667 (run): span 3 is alpha .5.
    found = ewma(known(np.array([1.0, 2.0, 3.0, 4.0])), 3).value[0]
    assert found == pytest.approx([1.0, 1.666667, 2.428571, 3.266667], abs=5e-7)


def test_a_missing_day_is_left_out_and_the_weights_renormalise() -> None:
    # (1, missing, 3) with alpha .5: 1, then (3 + 1/4) / (1 + 1/4) = 2.6 (polars prints the same with ignore_nulls=False; run).
    gap = Readings(np.array([[1.0, 0.0, 3.0]]), np.array([[True, False, True]]))
    assert ewma(gap, 3).value[0, 2] == pytest.approx(2.6, abs=1e-9)
