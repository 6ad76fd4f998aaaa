"""Hopkins' chances of better, trivial and worse: 76 / 16 / 8 % from memory, the other rows computed exactly from the formula."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipelines.measures.baseline.chances import chances, change_error, detectable_change, typical_error

ROWS = pl.read_csv(Path(__file__).parent.parent / "data" / "hopkins_chances.csv", comment_prefix="#").rows(named=True)


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_chances(row: dict[str, float]) -> None:
    result = chances(row["change"], change_error(row["TE"]), row["SWC"])
    printed = (row["p_benefit"], row["p_trivial"], row["p_harm"])
    assert (result.better, result.trivial, result.worse) == pytest.approx(printed, abs=5.1e-5)


def test_the_slide_example_in_per_cent() -> None:
    result = chances(1.5, change_error(1.0), 0.5)
    assert [round(100 * part) for part in (result.better, result.trivial, result.worse)] == [76, 16, 8]


def test_an_estimated_error_makes_the_chances_less_extreme() -> None:
    known, estimated = chances(2.5, 1.0, 0.5), chances(2.5, 1.0, 0.5, degrees_of_freedom=5.0)
    assert estimated.better < known.better
    assert estimated.worse > known.worse


def test_multiples_of_the_typical_error() -> None:
    # 2.77 and 2.33 times the typical error: common practice, from the normal quantiles.
    assert detectable_change(1.0) == pytest.approx(2.772, abs=0.0005)
    assert detectable_change(1.0, 0.90) == pytest.approx(2.326, abs=0.0005)
    assert change_error(1.0, 4, 4) == pytest.approx(np.sqrt(0.5))


def test_typical_error_of_differences() -> None:
    assert typical_error(np.array([1.0, -1.0, 2.0, -2.0])) == pytest.approx(np.sqrt(10 / 3) / np.sqrt(2))
    assert typical_error(np.array([1.0])) is None


def test_no_chance_without_an_error() -> None:
    with pytest.raises(ValueError, match="above 0"):
        chances(1.0, 0.0, 0.5)
