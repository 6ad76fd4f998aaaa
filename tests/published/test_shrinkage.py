"""The eight schools (second-hand), and their exact posterior by integration."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipelines.measures.baseline.shrinkage import shrunken_levels

DATA = Path(__file__).parent.parent / "data"
SCHOOLS = pl.read_csv(DATA / "eight_schools.csv", comment_prefix="#")
Y, V = SCHOOLS["y"].to_numpy().astype(float), SCHOOLS["sigma"].to_numpy().astype(float) ** 2
POSTERIOR = shrunken_levels(Y, V)


@pytest.mark.parametrize("school", range(8))
def test_eight_schools_posterior(school: int) -> None:
    assert POSTERIOR.level[school] == pytest.approx(SCHOOLS["post_mean_exact"][school], abs=0.03)
    assert POSTERIOR.sd[school] == pytest.approx(SCHOOLS["post_sd_exact"][school], abs=0.03)


@pytest.mark.parametrize("school", range(7))  # the eighth was not printed
def test_eight_schools_against_one_printed_sampler_run(school: int) -> None:
    # One run of a sampler: its own Monte Carlo error is some tenths.
    assert POSTERIOR.level[school] == pytest.approx(SCHOOLS["mcmc_mean_read"][school], abs=0.5)


def test_eight_schools_mean_and_spread() -> None:
    assert POSTERIOR.squad_mean == pytest.approx(7.93, abs=0.03)
    assert POSTERIOR.between_sd == pytest.approx(6.56, abs=0.03)


def test_zero_variance_trap() -> None:
    assert Y.var(ddof=1) < V.mean()  # the moment estimate of the variance between is 0
    assert POSTERIOR.between_sd > 0.0
    assert np.ptp(POSTERIOR.level) > 5.0  # the moment estimate would give every school the same 7.7


def test_nearly_all_squad_when_own_data_are_poor_and_nearly_none_when_they_are_good() -> None:
    values = np.random.default_rng(1).normal(100.0, 5.0, 30)
    assert np.all(shrunken_levels(values, np.full(30, 0.01)).squad_share < 0.01)
    assert np.all(shrunken_levels(values, np.full(30, 2500.0)).squad_share > 0.8)


def test_two_players_are_too_few() -> None:
    with pytest.raises(ValueError, match="at least three"):
        shrunken_levels(np.ones(2), np.ones(2))


@pytest.mark.parametrize(("n", "apart", "far"), [(3, 0.0, 0.0), (8, 2.0, 0.0), (60, 1.0, 40.0), (400, 0.3, 0.0), (400, 5.0, 0.0)])
def test_of_the_spread_nothing_is_left_out_that_counts(n: int, apart: float, far: float) -> None:
    """Against the same integral over the whole of the grid, player by player, from the formulas of the docstring."""
    rng = np.random.default_rng(n)
    variances = rng.gamma(2.0, 0.5, n) + 0.01
    values = rng.normal(0.0, apart, n) + rng.normal(0.0, np.sqrt(variances)) + np.where(np.arange(n) == 0, far, 0.0)
    found = shrunken_levels(values, variances)
    tau = (np.arange(4000) + 0.5) / 400.0 * max(values.std(ddof=1), np.sqrt(variances.max()))
    total = variances + tau[:, None] ** 2
    mu, sd = (values / total).sum(axis=1) / (1 / total).sum(axis=1), (1 / total).sum(axis=1) ** -0.5
    log = stats.norm.logpdf(values, mu[:, None], np.sqrt(total)).sum(axis=1) + np.log(sd)
    weight = np.exp(log - log.max()) / np.exp(log - log.max()).sum()
    share = variances / total
    level = values + share * (mu[:, None] - values)
    variance = (1 - share) * variances + (share * sd[:, None]) ** 2
    assert found.level == pytest.approx(weight @ level, rel=1e-9, abs=1e-9)
    assert found.sd**2 == pytest.approx(weight @ (variance + (level - weight @ level) ** 2), rel=1e-9)
    assert found.between_sd == pytest.approx(weight @ tau, rel=1e-9)
