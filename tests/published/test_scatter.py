"""Scatter: ellipse multipliers, robust fit, spread with tails, intervals of a rate."""

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
    sd_over_core,
    shot_pattern,
    tail_spread,
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


NEWCOMB = (
    *(
        28,
        26,
        33,
        24,
        34,
        -44,
        27,
        16,
        40,
        -2,
        29,
        22,
        24,
        21,
        25,
        30,
        23,
        29,
        31,
        19,
        24,
        20,
        36,
        32,
        36,
        28,
        25,
        21,
        28,
        29,
        37,
        25,
    ),
    *(
        28,
        26,
        30,
        32,
        36,
        26,
        30,
        22,
        36,
        23,
        27,
        27,
        28,
        27,
        31,
        27,
        26,
        33,
        26,
        32,
        32,
        24,
        39,
        28,
        24,
        25,
        32,
        25,
        29,
        27,
        28,
        29,
    ),
    *(16, 23),
)
"""Newcomb's 66 times of light, 1882, as in Stigler 1977 (from memory): mean 26.2, standard deviation 10.7."""


def test_two_far_readings_of_newcomb_are_the_tails_and_the_others_the_core() -> None:
    values = np.array(NEWCOMB, dtype=np.float64)
    assert (values.mean(), values.std(ddof=1)) == (pytest.approx(26.2, abs=0.05), pytest.approx(10.75, abs=0.05))  # as printed
    _, middle, scale = stats.t.fit(values, fix_df=4)
    found = tail_spread(values, middle, scale)
    without = values[values > 0].std(ddof=1)  # 64 readings: 5.1
    assert found.sd / float(sd_over_core(found.tail_share)) == pytest.approx(without, rel=0.12)
    assert 1.3 * without < found.sd < values.std(ddof=1)
    assert found.tail_share == pytest.approx(2 / 66, abs=2 * found.tail_share_error)


def test_the_variance_of_two_normal_parts() -> None:
    # Tukey 1960: (1 - f) + f k^2 (from memory), here k = 4; of 10 % as wide as four, 1 - .1 + 1.6 = 2.5
    assert float(sd_over_core(0.1)) == pytest.approx(2.5**0.5)


@pytest.mark.parametrize(("tails", "low", "high"), [("normal", 0.97, 1.09), ("t4", 0.92, 1.08), ("wild", 0.88, 1.05)])
def test_the_spread_of_shots_is_that_of_their_makers(tails: str, low: float, high: float) -> None:
    """40 groups of 60 of a known standard deviation: normal as published, t of 4, and 15 % of shots four times as wide."""
    rng = np.random.default_rng(6)
    told, robust, inside = [], [], 0
    for _ in range(40):
        drawn = rng.standard_normal(60)
        if tails == "t4":
            drawn = rng.standard_t(4, 60) / 2**0.5
        if tails == "wild":
            drawn *= np.where(rng.random(60) < 0.15, 4.0, 1.0) / float(sd_over_core(0.15))
        _, middle, scale = stats.t.fit(drawn, fix_df=4)
        found = tail_spread(drawn, middle, scale)
        told.append(np.log(found.sd))
        robust.append(np.log(scale * 2**0.5))
        inside += abs(told[-1]) < 1.645 * found.log_error
    assert low < np.exp(np.mean(told)) < high
    assert inside >= 31  # of 40, for an interval of 90 %
    if tails == "normal":
        assert np.exp(np.mean(robust)) > 1.12  # a t scale times its own factor, beside a published value
    if tails == "wild":
        assert np.exp(np.mean(robust)) < 0.88
