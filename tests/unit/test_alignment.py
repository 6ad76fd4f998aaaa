"""Two sequences side by side: against the definition, written out as a recursion."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from pipelines.measures.trial.alignment import aligned_places, alignment_costs
from pipelines.measures.trial.sheet import arms_in


def by_definition(apart: np.ndarray, alone: float) -> float:
    """The least of: both last places side by side, or one of them alone."""

    @cache
    def least(row: int, column: int) -> float:
        if not row or not column:
            return alone * (row + column)
        together = least(row - 1, column - 1) + float(apart[row - 1, column - 1])
        return min(together, least(row - 1, column) + alone, least(row, column - 1) + alone)

    return least(*apart.shape)


@pytest.mark.parametrize("shape", [(0, 0), (0, 3), (4, 0), (1, 1), (5, 8), (9, 6)], ids=str)
@pytest.mark.parametrize("alone", [0.3, 1.0])
def test_the_cost_is_the_least_and_the_places_pay_it(shape: tuple[int, int], alone: float) -> None:
    apart = np.random.default_rng(7).uniform(0.0, 2.0, shape)
    cost = alignment_costs(apart, alone)
    pairs = aligned_places(cost, apart, alone)
    assert cost[-1, -1] == pytest.approx(by_definition(apart, alone))
    paid = sum(apart[pair] for pair in pairs) + alone * (sum(shape) - 2 * len(pairs))
    assert cost[-1, -1] == pytest.approx(paid)
    assert pairs == sorted(pairs)


def test_arms_as_a_file_names_them() -> None:
    assert arms_in(" normal | wider||") == ("normal", "wider")
