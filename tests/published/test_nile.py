"""Nile flow 1871-1970: the filter against statsmodels, with years missing; the break of 1898.

Data: the package data of statsmodels. The break at 1898 was read in the documentation of the package strucchange (second-hand);
that of the filter is computed by statsmodels in this test.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from statsmodels.tsa.statespace.structural import UnobservedComponents

from pipelines.measures.shift.dating import change_points
from pipelines.measures.trend.filter import filter_pass
from pipelines.measures.trend.grid import TrendGrid
from pipelines.measures.trend.series import packed

NILE = pl.read_csv(Path(__file__).parent.parent / "data" / "nile.csv", comment_prefix="#")
OBSERVATION, LEVEL, SLOPE = 15000.0, 1000.0, 10.0


def statsmodels_filter(values: np.ndarray, slope: float) -> tuple[float, np.ndarray, np.ndarray]:
    """Local linear trend of statsmodels; the wander of the slope reaches the level within the step, as in continuous time."""
    model = UnobservedComponents(values, "lltrend")
    model.ssm.initialize_known(np.zeros(2), np.diag([1e7, 1.0]))
    model.loglikelihood_burn = 0
    model.update(np.array([OBSERVATION, LEVEL, slope]))
    model.ssm["state_cov"] = np.array([[LEVEL + slope / 3.0, slope / 2.0], [slope / 2.0, slope]])
    result = model.ssm.filter()
    return result.llf_obs.sum(), result.filtered_state[:, -1], result.filtered_state_cov[:, :, -1]


def own_filter(values: np.ndarray, slope: float) -> tuple[float, np.ndarray, np.ndarray]:
    years = np.flatnonzero(~np.isnan(values))
    known = np.zeros(years.size)
    batch = packed(np.zeros(years.size, dtype=np.int64), 1, years.astype(float), values[years], known, known)
    grid = TrendGrid(np.array([OBSERVATION]), np.array([LEVEL]), np.array([slope]), 1e7, 1.0, odd_share=0.0)
    done = filter_pass(batch, grid)
    covariance = done.covariance[-1, 0, 0]
    state = np.array([done.level[-1, 0, 0], done.slope[-1, 0, 0]])
    variance = np.array([[done.level_variance[-1, 0, 0], covariance], [covariance, done.slope_variance[-1, 0, 0]]])
    return float(done.log_likelihood[0, 0]), state, variance


@pytest.mark.parametrize("slope", [0.0, SLOPE])
@pytest.mark.parametrize("missing", [0, 40])
def test_likelihood_and_state_equal_statsmodels_with_years_missing(missing: int, slope: float) -> None:
    values = NILE["volume"].to_numpy().copy()
    values[1 + np.random.default_rng(1).choice(98, missing, replace=False)] = np.nan
    reference, own = statsmodels_filter(values, slope), own_filter(values, slope)
    for theirs, ours in zip(reference, own, strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-9)


def test_a_slope_that_does_not_wander_is_the_packaged_model_itself() -> None:
    values = NILE["volume"].to_numpy()
    model = UnobservedComponents(values, "lltrend")
    model.ssm.initialize_known(np.zeros(2), np.diag([1e7, 1.0]))
    model.loglikelihood_burn = 0
    assert own_filter(values, 0.0)[0] == pytest.approx(model.loglike([OBSERVATION, LEVEL, 0.0]), abs=1e-6)


def test_the_level_breaks_after_1898() -> None:
    values = NILE["volume"].to_numpy()
    breaks = change_points(values, float(values.std()))
    assert [int(NILE["year"][index - 1]) for index in breaks] == [1898]
    assert (values[: breaks[0]].mean(), values[breaks[0] :].mean()) == pytest.approx((1097.75, 849.97), abs=0.005)
