"""Time for the trends of 20,000 series on two cores, against statsmodels' UnobservedComponents fitted series by series."""

from __future__ import annotations

import time
import warnings
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import numpy as np
import pytest
from statsmodels.tsa.statespace.structural import UnobservedComponents

from pipelines.measures.trend.grid import standard_grid
from pipelines.measures.trend.points import trend_history
from pipelines.measures.trend.series import SeriesBatch, packed

N_SERIES, N_DAYS, SAMPLED = 20_000, 180, 24


def batch(seed: int, n_series: int) -> SeriesBatch:
    """Series of 75 to 100 sessions in 180 days."""
    rng = np.random.default_rng(seed)
    lengths = rng.integers(75, 101, n_series)
    days = np.concatenate([np.sort(rng.choice(N_DAYS, length, replace=False)) for length in lengths]).astype(float)
    noise = 2.25 / np.exp(rng.uniform(np.log(10.0), np.log(80.0), days.size))
    values = np.sqrt(0.49 + noise) * rng.standard_normal(days.size)
    return packed(np.repeat(np.arange(n_series), lengths), n_series, days, values, noise, np.zeros_like(days))


def filtered(seed: int) -> int:
    series = batch(seed, N_SERIES // 20)
    points = trend_history(series, np.ones_like(series.days), standard_grid())[0]
    return int(np.unique(points.series).size)


def fitted_one_by_one() -> float:
    """Seconds for each series on one core, on a grid of days with missing ones."""
    series = batch(99, SAMPLED)
    begin = time.perf_counter()
    for column in range(SAMPLED):
        daily = np.full(N_DAYS, np.nan)
        steps = slice(0, series.lengths[column])
        daily[series.days[steps, column].astype(int)] = series.values[steps, column]
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # an optimiser that stops early is no matter here
            UnobservedComponents(daily, "lltrend").fit(disp=0)
    return (time.perf_counter() - begin) / SAMPLED


@pytest.mark.benchmark
def test_forty_times_as_fast_as_one_by_one() -> None:
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        assert sum(pool.map(filtered, (0, 1))) == 2 * N_SERIES // 20  # both workers have begun
        begin = time.perf_counter()
        assert sum(pool.map(filtered, range(20))) == N_SERIES
        own = time.perf_counter() - begin
        each = sum(pool.map(_timed, range(2))) / 2.0
    theirs = each * N_SERIES / 2.0
    told = (
        f"{N_SERIES} series on two cores: {own:.1f} s; one by one {theirs:.0f} s (from {2 * SAMPLED}): {theirs / own:.0f} times"
    )
    print(f"\n{told}")  # noqa: T201 - a benchmark shows its figures
    assert theirs / own >= 40.0


def _timed(_: int) -> float:
    return fitted_one_by_one()
