"""Scatter: ellipse multipliers, robust fit, intervals of a rate."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipelines.measures.scatter import (
    large_sample_multiplier,
    middle_multiplier,
    mishit_rate,
    next_shot_multiplier,
    shot_pattern,
)

DATA = Path(__file__).parent.parent / "data"
ELLIPSES = pl.read_csv(DATA / "ellipse_multipliers.csv", comment_prefix="#")


@pytest.mark.parametrize("row", range(0, ELLIPSES.height, 3))
def test_ellipse_multipliers(row: int) -> None:
    # computed with scipy for the notes; formulas Hotelling 1931, Chew 1966 (from memory)
    n, share, k, one_more, middle = ELLIPSES.row(row)
    assert large_sample_multiplier(share) == pytest.approx(k, abs=5.1e-5)
    assert next_shot_multiplier(n, share) == pytest.approx(one_more, abs=5.1e-5)
    assert middle_multiplier(n, share) == pytest.approx(middle, abs=5.1e-6)


def test_textbook_multipliers() -> None:
    # 5.9915 = 95 % point of chi-square with 2 degrees of freedom (printed tables)
    assert large_sample_multiplier(0.95) == pytest.approx(5.9915, abs=5e-5)


def test_robust_fit_meets_scipys_density() -> None:
    # the maximum-likelihood t fit: no move of the parameters raises scipy's own likelihood
    rng = np.random.default_rng(8)
    shots = stats.multivariate_t([3.0, 220.0], [[9.0, 4.0], [4.0, 80.0]], df=4, seed=rng).rvs(300)
    fit = shot_pattern(shots)
    assert fit is not None
    best = stats.multivariate_t(fit.middle, fit.scale, df=4).logpdf(shots).sum()
    for bump in (np.diag([0.3, 0.0]), np.diag([0.0, 3.0]), np.array([[0.0, 0.6], [0.6, 0.0]])):
        for sign in (-1.0, 1.0):
            assert stats.multivariate_t(fit.middle, fit.scale + sign * bump, df=4).logpdf(shots).sum() < best
    assert stats.multivariate_t(fit.middle + np.array([0.2, 0.0]), fit.scale, df=4).logpdf(shots).sum() < best


def test_standard_errors_of_the_fit() -> None:
    # asymptotic errors of the t fit against 400 simulated groups of 40
    rng = np.random.default_rng(4)
    model = stats.multivariate_t([0.0, 0.0], [[4.0, 0.0], [0.0, 9.0]], df=4, seed=rng)
    fits = [shot_pattern(model.rvs(40)) for _ in range(400)]
    middles = np.array([fit.middle for fit in fits if fit])
    logs = np.array([np.log(fit.sd) for fit in fits if fit])
    errors = np.array([fit.middle_error for fit in fits if fit]).mean(axis=0)
    np.testing.assert_allclose(middles.std(axis=0), errors, rtol=0.12)
    assert fits[0] is not None
    np.testing.assert_allclose(logs.std(axis=0), fits[0].log_sd_error, rtol=0.12)


def test_jeffreys_interval_of_a_rate() -> None:
    # scipy's beta quantiles; 3 of 60 with Beta(1/2, 1/2)
    found = mishit_rate(3, 60, 0.5, 1.0)
    assert found is not None
    assert (found.low, found.high) == pytest.approx(stats.beta.ppf([0.025, 0.975], 3.5, 57.5), abs=1e-10)
