"""Saw, Halson & Mujika 2018, Sports 6:63 (read): smallest worthwhile and smallest real change of series of answers.

The table prints one decimal and truncates (2.573 is printed 2.6, 5.972 printed 6.0, 3.569 printed 3.5): tolerance .1.
"""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.body.ratings import smallest_real_change_of_means, smallest_worthwhile_change_pct

ROWS = [(68.8, 5.9, 21, 2.6, 3.5), (69.0, 6.7, 8, 2.9, 6.5), (64.5, 5.7, 7, 2.7, 6.0), (67.7, 6.1, 8, 2.7, 6.0)]
# The same rows to three decimals by plain arithmetic.
UNROUNDED = [(2.573, 3.569), (2.913, 6.566), (2.651, 5.972), (2.703, 5.978)]


@pytest.mark.parametrize("row", range(4))
def test_printed_values(row: int) -> None:
    mean, spread, n, worthwhile, real = ROWS[row]
    assert smallest_worthwhile_change_pct(mean, spread) == pytest.approx(worthwhile, abs=0.1)
    assert smallest_real_change_of_means(spread, n) == pytest.approx(real, abs=0.1)


@pytest.mark.parametrize("row", range(4))
def test_unrounded_values(row: int) -> None:
    mean, spread, n, _, _ = ROWS[row]
    assert smallest_worthwhile_change_pct(mean, spread) == pytest.approx(UNROUNDED[row][0], abs=5e-4)
    assert smallest_real_change_of_means(spread, n) == pytest.approx(UNROUNDED[row][1], abs=5e-4)


def test_it_is_a_quantity_of_means() -> None:
    # With n = 1 it becomes the detectable change of a single value, sqrt(n) times larger: not what the table prints.
    assert smallest_real_change_of_means(5.9, 1) == pytest.approx(smallest_real_change_of_means(5.9, 21) * np.sqrt(21))
