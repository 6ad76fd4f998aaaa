"""NIST/SEMATECH e-Handbook 6.3.2.3 and 6.3.2.4, row by row (second-hand: public copies of the pages)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipelines.measures.shift.charts import cumulative_sums, exponential_limits, exponential_means

DATA = Path(__file__).parent.parent / "data"
CUSUM = pl.read_csv(DATA / "nist_cusum_6323.csv", comment_prefix="#")
EWMA = pl.read_csv(DATA / "nist_ewma_6324.csv", comment_prefix="#")
UPPER, LOWER = cumulative_sums(CUSUM["x"].to_numpy(), target=325.0, slack=0.3175)
MEANS = exponential_means(EWMA["x"].to_numpy().astype(float), start=50.0, weight=0.3)
HALF_DIGIT = 0.005 + 1e-9  # two decimals are printed; several rows end in exactly five


@pytest.mark.parametrize("row", range(CUSUM.height))
def test_cumulative_sums_of_6_3_2_3(row: int) -> None:
    assert UPPER[row] == pytest.approx(CUSUM["S_hi_published"][row], abs=HALF_DIGIT)
    assert LOWER[row] == pytest.approx(CUSUM["S_lo_published"][row], abs=HALF_DIGIT)


def test_first_signal_of_6_3_2_3_is_group_14() -> None:
    assert int(np.flatnonzero((UPPER > 4.1959) | (LOWER > 4.1959))[0]) + 1 == 14


@pytest.mark.parametrize("row", range(EWMA.height))
def test_exponential_means_of_6_3_2_4(row: int) -> None:
    assert MEANS[row] == pytest.approx(EWMA["ewma_published"][row], abs=HALF_DIGIT)


def test_limits_of_6_3_2_4_and_no_alarm() -> None:
    low, high = exponential_limits(50.0, 2.0539, 0.3)
    # The page rounds sqrt(.3/1.7) to .4201 before multiplying: 2e-4 instead of half of the last digit.
    assert (low, high) == pytest.approx((47.4115, 52.5884), abs=2e-4)
    assert np.all((low < MEANS) & (high > MEANS))
