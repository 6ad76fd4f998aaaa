"""Crawford & Howell 1998: predictive t. Example as a statistics package's manual prints it (read; its output recomputed)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipelines.measures.shift.self_starting import ChartBaseline, ChartSettings

CONTROLS = pl.read_csv(Path(__file__).parent.parent / "data" / "crawford_howell.csv", comment_prefix="#")["control"].to_numpy()
PLAIN = ChartSettings(prior_count=1e-9, clip=99.0, baseline_clip=1e9, memory=1e9)
"""Own values alone: no squad behind the spread, nothing cut, nothing forgotten."""


def score_after(earlier: np.ndarray, value: float) -> float:
    """Normal score that the product's chart gives a value after these."""
    normal, one = ChartBaseline.unknown(1, PLAIN), np.ones(1)
    for known in earlier:
        normal.learn(np.array([known]), one, np.ones(1, dtype=bool), PLAIN)
    return float(normal.scores(np.array([value]), one, PLAIN)[0])


def test_mean_and_spread_of_the_controls() -> None:
    assert CONTROLS.mean() == pytest.approx(0.375, abs=5e-4)
    assert CONTROLS.std(ddof=1) == pytest.approx(2.973, abs=5e-4)


def test_the_example() -> None:
    # printed: t 3.0522 with n - 1 degrees of freedom, two-sided p .01853
    two_sided = 2 * stats.norm.sf(score_after(CONTROLS.astype(float), 10.0))
    assert two_sided == pytest.approx(0.01853, abs=5e-6)
    assert stats.t.isf(two_sided / 2, CONTROLS.size - 1) == pytest.approx(3.0522, abs=2e-4)


@pytest.mark.parametrize(("n", "percent"), [(5, 14.2), (7, 11.1), (10, 8.9), (14, 7.5), (28, 6.0)])
def test_a_distance_of_two_plain_deviations_is_said_to_be_as_common_as_it_is(n: int, percent: float) -> None:
    # P(|z| > 2) with own mean and SD of n days, exact from the same t (run): nominal 4.55 %.
    earlier = np.random.default_rng(n).standard_normal(n)
    score = score_after(earlier, float(earlier.mean() + 2.0 * earlier.std(ddof=1)))
    assert 200 * stats.norm.sf(score) == pytest.approx(percent, abs=0.05)
