"""Average run lengths of charts against printed tables.

Lucas & Crosier (1982), Brook & Evans (1972), Vance (1986), Waldmann (1986): second-hand, in the examples of a statistics
package. EWMA 11.154267016: read in the documentation of a statistics system. Lucas & Saccucci (1990): from memory.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pipelines.measures.shift.run_length import exponential_run_length, one_sided_run_length, two_sided_run_length

DATA = Path(__file__).parent.parent / "data"
LUCAS_CROSIER = pl.read_csv(DATA / "arl_cusum.csv", comment_prefix="#").filter(
    pl.col("published_LucasCrosier1982_two_sided").is_not_null()
)
LUCAS_SACCUCCI = pl.read_csv(DATA / "arl_ewma.csv", comment_prefix="#").filter(
    pl.col("LucasSaccucci1990_from_memory").is_not_null()
)


def half_digit(printed: float) -> float:
    """Three digits are printed."""
    return 0.5 if printed >= 100 else 0.05 if printed >= 10 else 0.005


@pytest.mark.parametrize("row", LUCAS_CROSIER.rows(named=True), ids=str)
def test_lucas_crosier(row: dict[str, float]) -> None:
    printed = row["published_LucasCrosier1982_two_sided"]
    assert two_sided_run_length(row["k"], row["h"], row["shift"]) == pytest.approx(printed, abs=half_digit(printed))


@pytest.mark.parametrize("row", LUCAS_CROSIER.rows(named=True), ids=str)
def test_lucas_crosier_with_a_head_start_of_half_the_limit(row: dict[str, float]) -> None:
    printed = row["published_LC1982_headstart_h_over_2"]
    computed = two_sided_run_length(row["k"], row["h"], row["shift"], row["h"] / 2.0)
    # The printed values come from a Markov chain approximation: one unit of the last digit instead of half.
    assert computed == pytest.approx(printed, abs=2.0 * half_digit(printed))


def test_brook_evans_and_waldmann() -> None:
    assert one_sided_run_length(0.5, 3.0) == pytest.approx(117.59, abs=0.01)  # 117.596: printed cut, not rounded
    assert one_sided_run_length(0.5, 3.0, 1.5) == pytest.approx(3.75, abs=0.005)
    assert one_sided_run_length(0.5, 3.0, 0.5) == pytest.approx(17.35, abs=0.03)


@pytest.mark.parametrize(
    ("shift", "printed"),
    [(-0.125, 400.28), (0.0, 124.66), (0.125, 59.30), (0.25, 36.71), (0.5, 20.37), (0.75, 14.06), (1.0, 10.75)],
)
def test_vance(shift: float, printed: float) -> None:
    assert one_sided_run_length(0.0, 10.0, shift) == pytest.approx(printed, abs=0.01 if shift >= 0 else 0.05)


def test_printed_to_ten_decimals() -> None:
    # Computed by a Markov chain there: the seventh decimal differs, and more nodes do not move ours.
    assert one_sided_run_length(0.25, 8.0, 2.5) == pytest.approx(4.1500836225, abs=2e-7)
    assert one_sided_run_length(0.25, 8.0, 2.5, 0.1) == pytest.approx(4.1061588131, abs=2e-7)
    assert two_sided_run_length(0.25, 8.0, 2.5) == pytest.approx(4.1500826715, abs=2e-6)
    assert exponential_run_length(0.25, 3.0, 1.0) == pytest.approx(11.154267016, abs=1e-9)


@pytest.mark.parametrize("row", LUCAS_SACCUCCI.rows(named=True), ids=str)
def test_lucas_saccucci_from_memory(row: dict[str, float]) -> None:
    printed = row["LucasSaccucci1990_from_memory"]
    assert exponential_run_length(row["lam"], row["L"], row["shift"]) == pytest.approx(printed, rel=0.03)
