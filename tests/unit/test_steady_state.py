from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from pipelines.measures.shift.steady_state import CLIP, SLACK, STEEP_SLACK, chart_p_value, steep_p_value
from pipelines.measures.tables import published_table

if TYPE_CHECKING:
    from collections.abc import Callable


def simulated_tail(
    correlation: float,
    limits: np.ndarray,
    n_series: int,
    n_steps: int,
    generator: np.random.Generator,
    burn_in: int = 100,
    slack: float = SLACK,
) -> np.ndarray:
    """Share of nights on which an upper sum is at each limit or above it, in series without any shift.

    Parameters
    ----------
    correlation : float
        Lag-1 autocorrelation of the scores, below 1.
    limits : (h,) array
    n_series, n_steps : int
        Size of the simulation, after the burn-in.
    generator : numpy.random.Generator
    burn_in : int
        Steps until the sum has forgotten its start.
    slack : float
        Allowance.

    Notes
    -----
    Scores follow a first-order autoregression with SD 1, cut to -2..2.

    Source: [GandyLau2012] (steady-state p-values of charts that do not restart)
    Checked: tests/unit/test_steady_state.py
    """
    score, total = generator.standard_normal(n_series), np.zeros(n_series)
    innovation = np.sqrt(1.0 - correlation**2)
    above = np.zeros(limits.size)
    for step in range(burn_in + n_steps):
        score = correlation * score + innovation * generator.standard_normal(n_series)
        total = np.maximum(0.0, total + np.clip(score, -CLIP, CLIP) - slack)
        if step >= burn_in:
            above += (total[:, None] >= limits - 1e-9).sum(axis=0)
    return above / (n_series * n_steps)


def test_half_of_the_two_sided_figures_of_another_simulation() -> None:
    # Two-sided steady-state shares from a simulation with 1.2 million draws made by another program.
    two_sided = {2.0: 0.1186, 3.0: 0.0379, 4.0: 0.01216, 5.0: 0.00394, 6.0: 0.00126, 7.0: 0.000398}
    for limit, share in two_sided.items():
        assert 2 * chart_p_value(np.array([limit]), 0.0)[0] == pytest.approx(share, rel=0.08)


@pytest.mark.parametrize("correlation", [0.0, 0.3])
def test_the_table_agrees_with_a_fresh_simulation(correlation: float) -> None:
    limits = np.array([1.0, 2.0, 4.0])
    fresh = simulated_tail(correlation, limits, 2000, 200, np.random.default_rng(7))
    np.testing.assert_allclose(chart_p_value(limits, correlation), fresh, rtol=0.15)


@pytest.mark.parametrize("correlation", [0.0, 0.3])
def test_the_table_of_steep_sums_agrees_with_a_fresh_simulation(correlation: float) -> None:
    limits = np.array([0.5, 1.0, 2.0])
    fresh = simulated_tail(correlation, limits, 2000, 400, np.random.default_rng(7), slack=STEEP_SLACK)
    np.testing.assert_allclose(steep_p_value(limits, correlation), fresh, rtol=0.15)


def test_three_sessions_two_standard_deviations_away_say_more_by_the_steep_sum() -> None:
    scores = np.full(3, CLIP)
    plain, steep = (scores - SLACK).sum(), (scores - STEEP_SLACK).sum()
    assert steep_p_value(np.array([steep]), 0.1)[0] < chart_p_value(np.array([plain]), 0.1)[0] / 10.0


@pytest.mark.parametrize("of", [chart_p_value, steep_p_value])
def test_p_values_fall_with_the_sum_and_rise_with_correlation(of: Callable[[np.ndarray, float], np.ndarray]) -> None:
    sums = np.linspace(0.1, 30.0, 60)
    by_correlation = [of(sums, rho) for rho in (0.0, 0.2, 0.4)]
    for p_values in by_correlation:
        assert np.all(np.diff(p_values) < 0)
        assert np.all((p_values > 0) & (p_values <= 1))
    assert np.all(by_correlation[0] < by_correlation[1])
    assert np.all(by_correlation[1] < by_correlation[2])


def test_a_sum_of_zero_says_nothing() -> None:
    assert chart_p_value(np.zeros(1), 0.0)[0] == 1.0


def test_between_its_rows_and_beyond_its_end_the_table_is_read_as_a_library_reads_it() -> None:
    table = published_table("chart_tail").sort("correlation", "limit")
    grid = tuple(np.unique(table[name].to_numpy()) for name in ("correlation", "limit"))
    log_p = np.log(table["p_one_sided"].to_numpy()).reshape(grid[0].size, grid[1].size)
    library = RegularGridInterpolator(grid, log_p, bounds_error=False, fill_value=None)
    rng = np.random.default_rng(4)
    sums, correlation = rng.uniform(0.01, 1.5 * grid[1][-1], (40, 25)), rng.uniform(0.0, grid[0][-1], (40, 25))
    sums[0], correlation[1] = rng.choice(grid[1], 25), grid[0][-1]
    sums = np.maximum(sums, 0.01)
    found = np.exp(np.minimum(library(np.stack([correlation, sums], axis=-1)), 0.0))
    assert chart_p_value(sums, correlation) == pytest.approx(found, rel=1e-10)
    assert np.array_equal(chart_p_value(sums[7:9], correlation[7:9]), chart_p_value(sums, correlation)[7:9])
