"""The uncertainty of a sum or difference of independent quantities.

Source: [JCGM100], H.1 (end-gauge calibration), from memory: the contributions 25 nm (standard), 9.7 nm (measured difference),
2.9 nm and 16.6 nm (temperature) are printed to combine to 32 nm.
"""

from __future__ import annotations

import polars as pl
import pytest

from pipelines.measures.programme.changes import combined_half_width


def _combined(*widths: float) -> float:
    total = pl.lit(widths[0])
    for width in widths[1:]:
        total = combined_half_width(total, pl.lit(width))
    return float(pl.select(total).item())


def test_the_end_gauge_of_the_guide() -> None:
    assert _combined(25.0, 9.7, 2.9, 16.6) == pytest.approx(32.0, abs=0.5)


def test_a_right_angled_triangle_is_exact() -> None:
    assert _combined(3.0, 4.0) == pytest.approx(5.0, abs=1e-12)


def test_a_certain_quantity_adds_nothing() -> None:
    assert _combined(1.7, 0.0) == pytest.approx(1.7, abs=1e-12)
