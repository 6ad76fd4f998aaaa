"""Cumulative sums: NIST/SEMATECH e-Handbook 6.3.2.3 row by row (second-hand: public copies of the page); run lengths of
Lucas & Crosier 1982 [LucasCrosier1982] (second-hand, in the examples of a statistics package) met by simulating our own chart."""

from __future__ import annotations

from dataclasses import replace
from itertools import accumulate
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipelines.measures.shift.run import chart_run, next_sums
from pipelines.measures.shift.self_starting import ChartSettings
from pipelines.measures.trend.series import packed

DATA = Path(__file__).parent.parent / "data"
CUSUM = pl.read_csv(DATA / "nist_cusum_6323.csv", comment_prefix="#")
SUMS = list(
    accumulate(
        CUSUM["x"].to_numpy() - 325.0, lambda sums, score: next_sums(*sums, score, 0.3175), initial=(np.zeros(1), np.zeros(1))
    )
)[1:]
UPPER, LOWER = (np.array([pair[side][0] for pair in SUMS]) for side in (0, 1))
HALF_DIGIT = 0.005 + 1e-9  # two decimals are printed; several rows end in exactly five

LUCAS_CROSIER = pl.read_csv(DATA / "arl_cusum.csv", comment_prefix="#").filter(
    pl.col("published_LucasCrosier1982_two_sided").is_not_null(), pl.col("k") == 0.5, pl.col("h") == 4.0, pl.col("shift") >= 1.0
)


@pytest.mark.parametrize("row", range(CUSUM.height))
def test_cumulative_sums_of_6_3_2_3(row: int) -> None:
    assert UPPER[row] == pytest.approx(CUSUM["S_hi_published"][row], abs=HALF_DIGIT)
    assert LOWER[row] == pytest.approx(CUSUM["S_lo_published"][row], abs=HALF_DIGIT)


def test_first_signal_of_6_3_2_3_is_group_14() -> None:
    assert int(np.flatnonzero((UPPER > 4.1959) | (LOWER > 4.1959))[0]) + 1 == 14


LEARNT, RUNS, LONGEST = 400, 150, 60


def simulated_run_lengths(limit: float, shifts: list[float]) -> dict[float, float]:
    """Mean number of sessions from a shift to the chart's word, for charts that know their normal from many sessions."""
    values = np.random.default_rng(1982).standard_normal((LEARNT + LONGEST, RUNS * len(shifts)))
    values[LEARNT:] += np.repeat(shifts, RUNS)
    n, series = values.shape
    zero = np.zeros(values.size)
    batch = packed(np.repeat(np.arange(series), n), series, np.tile(np.arange(n) * 2.0, series), values.T.ravel(), zero, zero)
    known = ChartSettings(clip=99.0, baseline_clip=99.0, prior_count=1e6, memory=1e9, settle_days=1e6)
    settings = replace(known, slack=0.5, confirm_at=limit, learning_sessions=LEARNT)
    first = np.full(series, -1)
    for shift in reversed(chart_run(batch, np.ones_like(values), settings).shifts):
        first[shift.series] = shift.signal_step + 1 - LEARNT
    assert (first > 0).all()
    return dict(zip(shifts, first.reshape(len(shifts), RUNS).mean(axis=1), strict=True))


@pytest.fixture(scope="module")
def run_lengths() -> dict[float, float]:
    return simulated_run_lengths(4.0, LUCAS_CROSIER["shift"].to_list())


@pytest.mark.parametrize("row", LUCAS_CROSIER.rows(named=True), ids=lambda row: f"shift {row['shift']}")
def test_run_lengths_of_our_chart(row: dict[str, float], run_lengths: dict[float, float]) -> None:
    # 150 runs give a standard error of 1 to 5 %; a mean learnt from 400 sessions lengthens the longest by some 2 %
    assert run_lengths[row["shift"]] == pytest.approx(row["published_LucasCrosier1982_two_sided"], rel=0.1)
