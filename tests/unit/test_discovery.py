from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import false_discovery_control

from pipelines.measures.flags.discovery import adjusted_p_values, joint_p_value


def test_equal_to_scipy_on_random_p_values() -> None:
    p_values = np.random.default_rng(1).random(200) ** 2
    np.testing.assert_allclose(adjusted_p_values(p_values), false_discovery_control(p_values, method="bh"), rtol=1e-12)


def test_leaving_out_large_p_values_changes_nothing_for_the_small_ones() -> None:
    p_values = np.sort(np.random.default_rng(2).random(100) ** 3)
    kept = p_values[:40]
    whole = adjusted_p_values(p_values)[:40]
    rejected = whole <= 0.1
    np.testing.assert_array_equal(adjusted_p_values(kept, 100) <= 0.1, rejected)


def test_joint_p_value_by_hand() -> None:
    # Simes: min(3 x .02, 3 x .03 / 2, 3 x .9 / 3) = .045
    assert joint_p_value(np.array([0.03, 0.9, 0.02])) == pytest.approx(0.045)


def test_joint_p_value_keeps_its_size_when_nothing_happens() -> None:
    draws = np.random.default_rng(3).random((4000, 5))
    share = np.mean([joint_p_value(draw) <= 0.05 for draw in draws])
    assert share == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 4000))


def test_values_that_are_no_probabilities_are_refused() -> None:
    with pytest.raises(ValueError, match="within 0 and 1"):
        adjusted_p_values(np.array([0.2, 1.2]))


def test_one_chance_of_several_tests_is_at_most_one() -> None:
    assert joint_p_value(np.array([0.6]), 4) == 1.0
    assert joint_p_value(np.array([0.2]), 4) == pytest.approx(0.8)
