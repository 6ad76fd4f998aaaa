"""Randomisation by blocks within rounds [Edgington2007]: the smallest p-values follow from counting the orders."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.trial.randomisation import round_randomisation


@pytest.mark.parametrize(("n_rounds", "smallest"), [(4, 0.125), (6, 0.03125), (8, 0.0078125)])
def test_smallest_p_of_paired_blocks(n_rounds, smallest):
    # two-sided 2 / 2^pairs: four pairs can never reach .05 (derived)
    values = np.tile([0.0, 1.0], (n_rounds, 1))
    result = round_randomisation(values, np.tile([0, 1], (n_rounds, 1)), 1, np.random.default_rng(1))
    assert result is not None
    assert result.is_exact
    assert result.p_value == result.smallest_p == smallest


def test_a_round_that_misses_an_arm_is_refused():
    with pytest.raises(ValueError, match="each arm exactly once"):
        round_randomisation(np.zeros((2, 2)), np.zeros((2, 2), dtype=int), 1, np.random.default_rng(1))


def test_one_round_gives_no_test():
    assert round_randomisation(np.zeros((1, 2)), np.array([[0, 1]]), 1, np.random.default_rng(1)) is None
