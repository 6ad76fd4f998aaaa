"""Spread of trial arms: gear data [NistGear] (second-hand, test of a library), and what a normal sample gives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.stats import levene

from pipelines.measures.trial.spread import log_mean_absolute_deviation, spread_ratio

DATA = Path(__file__).parents[1] / "data"
GEAR = pl.read_csv(DATA / "nist_gear_levene.csv", comment_prefix="#")


def test_brown_forsythe_on_gear_data():
    # the deviations from the median that our scatter measure is built on give the printed statistic
    batches = [rows["diameter"].to_numpy() for _, rows in GEAR.group_by("batch", maintain_order=True)]
    deviations = [np.abs(batch - np.median(batch)) for batch in batches]
    means = np.array([d.mean() for d in deviations])
    between = 10 * np.sum((means - means.mean()) ** 2) / 9
    within = sum(np.sum((d - d.mean()) ** 2) for d in deviations) / 90
    # printed 1.705910; double precision gives 1.705918, so the sixth decimal of the printed value is not trusted
    assert between / within == pytest.approx(1.705910, abs=1e-5)
    assert between / within == pytest.approx(levene(*batches, center="median").statistic, abs=1e-9)


def test_mean_absolute_deviation_of_a_normal_sample_is_0_798_sd():
    # E|z| = sqrt(2/pi) = .797885 (exact); variance of the log = (pi/2 - 1)/n = .571/n; 4 standard errors of 400,000 draws
    # the limit at 4.5 medians cuts what lies beyond 3.04 SD: E min(|z|, 3.0352) = .7972 (computed by quadrature)
    values = np.random.default_rng(7).standard_normal(400_000)
    log_mean, variance = log_mean_absolute_deviation(values)
    assert np.exp(log_mean) == pytest.approx(0.7972, abs=0.004)
    assert variance * 400_000 == pytest.approx(0.57, abs=0.01)


def test_double_scatter_is_found_as_double():
    values = np.random.default_rng(3).standard_normal((2, 4000))
    found = spread_ratio(values[0], 2 * values[1])
    assert found is not None
    low, high = found.interval()
    assert low < 2.0 < high
    assert found.above(1.5) > 0.999


@pytest.mark.parametrize("mishits", [0.0, 0.08])
def test_the_ratio_is_as_exact_as_it_says_with_mishits_too(mishits):
    # simulated, 3,000 pairs of equal arms of 50 and 40 shots; SD of the log ratios beside the one that is said (standard error
    # 1.3 %). With a limit of 3.5 medians it was 1.03 and 1.11
    rng = np.random.default_rng(2101)
    logs, said = [], []
    for _ in range(3000):
        arms = [rng.standard_normal(n) * np.where(rng.random(n) < mishits, 2.5, 1.0) for n in (50, 40)]
        (a, of_a), (b, of_b) = (log_mean_absolute_deviation(arm) for arm in arms)
        logs.append(b - a)
        said.append(of_a + of_b)
    assert 0.94 <= np.std(logs) / np.sqrt(np.mean(said)) <= 1.06


def test_too_few_shots_or_no_scatter_give_none():
    assert spread_ratio(np.arange(5.0), np.arange(9.0)) is None
    assert spread_ratio(np.zeros(9), np.arange(9.0)) is None
