"""Benjamini & Hochberg (1995), the 15 p-values of their example: second-hand, in the source of a statistics library."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipelines.measures.flags.discovery import adjusted_p_values

TABLE = pl.read_csv(Path(__file__).parent.parent / "data" / "bh1995.csv", comment_prefix="#")
ADJUSTED = adjusted_p_values(TABLE["p"].to_numpy())


@pytest.mark.parametrize("row", range(15))
def test_adjusted_p_values(row: int) -> None:
    assert ADJUSTED[row] == pytest.approx(TABLE["bh_adjusted"][row], abs=5.1e-7)


def test_four_are_rejected_at_five_per_cent_and_nine_at_ten() -> None:
    assert int((ADJUSTED <= 0.05).sum()) == 4
    assert int((ADJUSTED <= 0.10).sum()) == 9


def test_bonferroni_rejects_three() -> None:
    assert int((TABLE["p"] <= 0.05 / 15).sum()) == 3


def test_the_same_with_the_small_ones_alone() -> None:
    small = adjusted_p_values(TABLE["p"].to_numpy()[:6], n_tests=15)
    assert int((small <= 0.05).sum()) == 4
