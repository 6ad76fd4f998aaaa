"""Crawford & Howell 1998: predictive t. Example as a statistics package's manual prints it (read; its output recomputed)."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from scipy import stats

from pipelines.measures.body.baseline import predictive_t

CONTROLS = pl.read_csv(Path(__file__).parent.parent / "data" / "crawford_howell.csv", comment_prefix="#")["control"].to_numpy()


def test_mean_and_spread_of_the_controls() -> None:
    assert CONTROLS.mean() == pytest.approx(0.375, abs=5e-4)
    assert CONTROLS.std(ddof=1) == pytest.approx(2.973, abs=5e-4)


def test_the_example() -> None:
    t, one_sided = predictive_t(10.0, float(CONTROLS.mean()), float(CONTROLS.std(ddof=1)), CONTROLS.size)
    assert t == pytest.approx(3.0522, abs=5e-5)
    assert 2 * one_sided == pytest.approx(0.01853, abs=5e-6)


@pytest.mark.parametrize(("n", "percent"), [(5, 14.2), (7, 11.1), (10, 8.9), (14, 7.5), (28, 6.0)])
def test_a_plain_z_says_two_too_often(n: int, percent: float) -> None:
    # P(|z| > 2) with own mean and SD of n days, exact from the same t (run): nominal 4.55 %.
    assert 200 * stats.t.sf(2 / (1 + 1 / n) ** 0.5, n - 1) == pytest.approx(percent, abs=0.05)


def test_too_few_values() -> None:
    with pytest.raises(ValueError, match="two or more"):
        predictive_t(1.0, 0.0, 1.0, 1)
