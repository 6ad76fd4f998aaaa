from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.shift.steady_state import chart_limit, chart_p_value, lag_one_correlation, simulated_tail


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


def test_p_values_fall_with_the_sum_and_rise_with_correlation() -> None:
    sums = np.linspace(0.1, 30.0, 60)
    by_correlation = [chart_p_value(sums, rho) for rho in (0.0, 0.2, 0.4)]
    for p_values in by_correlation:
        assert np.all(np.diff(p_values) < 0)
        assert np.all((p_values > 0) & (p_values <= 1))
    assert np.all(by_correlation[0] < by_correlation[1])
    assert np.all(by_correlation[1] < by_correlation[2])


def test_a_sum_of_zero_says_nothing() -> None:
    assert chart_p_value(np.zeros(1), 0.0)[0] == 1.0


def test_limit_and_p_value_are_inverse() -> None:
    for p_value in (0.01, 0.001):
        assert chart_p_value(np.array([chart_limit(p_value, 0.2)]), 0.2)[0] == pytest.approx(p_value, rel=0.02)


def test_correlation_of_a_squad_is_found_in_spite_of_some_shifts() -> None:
    rng = np.random.default_rng(4)
    scores = np.zeros((80, 60))
    scores[0] = rng.standard_normal(60)
    for step in range(1, 80):
        scores[step] = 0.3 * scores[step - 1] + np.sqrt(0.91) * rng.standard_normal(60)
    scores[40:, :6] += 2.0
    assert lag_one_correlation(scores, np.ones_like(scores, dtype=bool)) == pytest.approx(0.3, abs=0.06)


def test_too_few_players_give_no_correlation() -> None:
    assert lag_one_correlation(np.zeros((80, 4)), np.ones((80, 4), dtype=bool)) is None
