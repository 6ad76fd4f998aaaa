"""The likelihood ratio of a gain beside growth: against a library's density, by quadrature, and on made-up players."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, linalg, stats

from pipelines.measures.onset_ratio import log_mean_ratio
from pipelines.measures.trend.gain_ratio import (
    EVERY_DAYS,
    GAIN_DAYS,
    GAIN_SD,
    LEVEL_SD,
    SLOPE_SD,
    SPURT_DAYS,
    SPURT_SD,
    cut_to_neighbours,
    growth_covariance,
    log_ratio_of_gain,
    own_over_squad,
    whitened,
)

YEAR = 365.25


def test_what_spurts_gain_varies_as_the_double_integral_of_their_resemblance() -> None:
    """Independent: numerical integration of the covariance of the speed of growth over both times."""
    days = np.array([20.0, 75.0, 140.0])
    found = growth_covariance(days)
    for i, j in ((0, 0), (0, 2), (1, 2)):
        spurts, _ = integrate.dblquad(
            lambda a, b: (SPURT_SD / YEAR) ** 2 * np.exp(-0.5 * ((a - b) / SPURT_DAYS) ** 2), 0.0, days[i], 0.0, days[j]
        )
        assert found[i, j] == pytest.approx(spurts + (SLOPE_SD / YEAR) ** 2 * days[i] * days[j], rel=1e-6)


def test_what_is_whitened_is_what_a_library_makes_and_rests_on_the_rows_before() -> None:
    rng = np.random.default_rng(8)
    day = np.cumsum(rng.uniform(2.0, 9.0, 60))
    lower = np.linalg.cholesky(growth_covariance(day - day[0]) + np.diag(rng.uniform(0.4, 0.9, 60)) + LEVEL_SD**2)
    columns = rng.normal(size=(60, 12))
    found = whitened(lower, columns)
    assert found == pytest.approx(linalg.solve_triangular(lower, columns, lower=True), rel=1e-9)
    assert np.array_equal(whitened(lower[:40, :40], columns[:40]), found[:40])
    assert np.array_equal(whitened(lower, columns[:, 3:5]), found[:, 3:5])


def test_it_is_the_ratio_of_normal_densities_integrated_over_the_size_of_the_gain() -> None:
    """Independent: scipy's multivariate normal density with and without a gain, integrated over sizes by quadrature."""
    rng = np.random.default_rng(5)
    day = np.cumsum(rng.uniform(2.0, 9.0, 11))
    values, variance = 380.0 + rng.normal(0.0, 0.8, 11) + np.linspace(0.0, 3.0, 11), rng.uniform(0.4, 0.9, 11)
    last = np.arange(11)[-1:]
    t = day - day[0]
    mean, covariance = 6.0 * t / YEAR, growth_covariance(t) + LEVEL_SD**2 + np.diag(variance)
    alone = stats.multivariate_normal(mean, covariance)
    ratios = []
    for begin in np.arange(0.0, t[-1] + 1.0, EVERY_DAYS):
        if np.sum(t >= begin) < 3:
            continue
        gain = np.clip((t - begin) / GAIN_DAYS, 0.0, 1.0)

        def density(size: float, gain: np.ndarray = gain) -> float:
            there = alone.logpdf(values - values[0] - size * gain) - alone.logpdf(values - values[0])
            return float(np.exp(there) * 2.0 * stats.norm.pdf(size, 0.0, GAIN_SD))

        ratios.append(integrate.quad(density, 0.0, 20.0, epsabs=1e-12)[0])
    found = log_ratio_of_gain(day, values, variance, 6.0, last)[0]
    assert found == pytest.approx(np.log(np.mean(ratios)), abs=1e-6)
    assert np.isneginf(log_ratio_of_gain(day, values, variance, 6.0, np.array([1]))[0])


def test_what_is_told_of_a_session_does_not_rest_on_later_ones() -> None:
    rng = np.random.default_rng(6)
    day, values = np.linspace(0.0, 237.0, 80), rng.normal(380.0, 0.8, 80)
    whole = log_ratio_of_gain(day, values, np.full(80, 0.6), 6.0, np.arange(80))
    part = log_ratio_of_gain(day[:50], values[:50], np.full(50, 0.6), 6.0, np.arange(50))
    np.testing.assert_allclose(whole[:50], part, atol=1e-9)


def test_a_gain_is_told_from_growth_and_a_spurt_is_not_called_one() -> None:
    """4.5 % in two months, and 4 % over about four months, beside 4 % a year; sessions without error, so a shape alone."""
    day = np.linspace(0.0, 357.0, 120)
    grown, variance = 380.0 + 4.0 * day / YEAR, np.full(120, 0.6)
    gain = grown + 4.5 * np.clip((day - 200.0) / 60.0, 0.0, 1.0)
    spurt = grown + 4.0 / (1.0 + np.exp(-(day - 200.0) / 35.0))
    told, of_spurt, of_none = (log_ratio_of_gain(day, one, variance, 6.0, np.arange(120)).max() for one in (gain, spurt, grown))
    assert told > 5.0
    assert of_spurt < 5.0
    assert of_none < 0.5


def test_one_odd_session_is_cut_to_what_its_neighbours_allow() -> None:
    values = np.full(12, 380.0)
    values[8] = 372.0
    cut = cut_to_neighbours(values, np.full(12, 0.8))
    assert cut[8] == pytest.approx(380.0 - 2.5)  # 2.5 sqrt(1.25 x 0.8)
    assert np.delete(cut, 8).tolist() == [380.0] * 11


def test_a_players_own_variance_is_drawn_toward_that_of_the_squad() -> None:
    """By hand: differences of sessions three apart of 2, with variances 0.5 and 0.5, are 4 each; four of them."""
    values = np.array([0.0, 0.0, 0.0, 2.0, 2.0, 2.0, 4.0])
    assert own_over_squad(values, np.full(7, 0.5)).tolist() == pytest.approx([1.0, 1.0, 1.0, 12 / 9, 16 / 10, 20 / 11, 24 / 12])


def test_days_on_which_it_may_have_begun_are_averaged_over() -> None:
    ratio = np.array([[1.0, 3.0, 8.0], [2.0, 0.0, 5.0], [4.0, 4.0, 4.0]])
    looked = np.array([[True, True, False], [True, True, True], [False, False, False]])
    with np.errstate(divide="ignore"):
        found = log_mean_ratio(np.log(ratio), looked)
    assert np.exp(found).tolist() == pytest.approx([2.0, 7.0 / 3.0, 0.0])
