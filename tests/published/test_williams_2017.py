"""Williams, West, Cross & Stokes 2017, BJSM 51(3):209 (letter, read): weight 2/(N+1). Series are own, values by plain arithmetic.

The letter's three athletes (ratios 1.25, 1.41, 1.55 where rolling means give 1.43 for all) are not reproduced: their inputs
were not seen.
"""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.load.grid import Floats, Readings
from pipelines.measures.load.windows import ewma


def known(daily: Floats) -> Readings:
    return Readings(daily[None, :], np.ones((1, daily.size), dtype=np.bool_))


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
