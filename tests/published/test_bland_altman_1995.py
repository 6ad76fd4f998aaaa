"""Bland & Altman 1995: correlation within subjects. Data and result as a statistics package's manual prints them (read)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipelines.measures.association.repeated import repeated_correlation

ROWS = pl.read_csv(Path(__file__).parent.parent / "data" / "rmcorr_bland1995.csv", comment_prefix="#")


def test_the_published_example() -> None:
    found = repeated_correlation(ROWS["pH"].to_numpy(), ROWS["PacO2"].to_numpy(), ROWS["Subject"].to_numpy())
    assert found is not None
    assert found.r == pytest.approx(-0.50677, abs=5e-6)
    assert found.degrees_of_freedom == 38
    assert found.p_value == pytest.approx(0.000847, abs=5e-7)
    assert (found.low, found.high) == pytest.approx((-0.71, -0.23), abs=0.005)


def test_nothing_varies_nothing_is_said() -> None:
    assert repeated_correlation(np.ones(9), np.arange(9.0), np.repeat([1, 2, 3], 3)) is None
