"""Foster et al. 2001, J Strength Cond Res 15(1):109-115, Table 5 (read in the full text), and own weeks by plain arithmetic.

The printed monotony of 1.26 is that of nine sessions with the population spread. Here days count, with the sample spread: the
printed loads give 1.12 then (by plain arithmetic), and the printed sum of the week.
"""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipelines.measures.load.change import rolling_monotony
from pipelines.measures.load.day import effort_minutes
from pipelines.measures.load.grid import Readings
from pipelines.measures.load.windows import trailing_sum

# Nine session loads as printed, by day: two days held two sessions (840 + 280, 390 + 280).
PRINTED_DAYS = [940, 50, 1120, 180, 390, 50, 670]
OWN_WEEK = [240, 0, 360, 120, 0, 480, 300]
FLAT_WEEK = [180, 180, 200, 190, 180, 200, 190]


def days(loads: list[float]) -> Readings:
    value = np.array([loads], dtype=np.float64)
    return Readings(np.nan_to_num(value), ~np.isnan(value))


def test_weekly_load_as_printed() -> None:
    assert trailing_sum(days(PRINTED_DAYS), 7, 7).value[0, -1] == 3400


@pytest.mark.parametrize(
    ("loads", "expected", "strain"), [(PRINTED_DAYS, 1.1217, 3813.8), (OWN_WEEK, 1.1720, 1758.03), (FLAT_WEEK, 20.96, 27665)]
)
def test_monotony_by_days_and_the_strain_that_goes_with_it(loads: list[float], expected: float, strain: float) -> None:
    rolled = rolling_monotony(days(loads))
    assert rolled.known[0, 6]
    assert not rolled.known[0, :6].any()
    assert rolled.value[0, 6] == pytest.approx(expected, abs=0.005)
    assert rolled.value[0, 6] * sum(loads) == pytest.approx(strain, rel=1e-4)


def test_a_nearly_flat_week_says_nothing_about_its_level() -> None:
    tenth = rolling_monotony(days([load / 10 for load in FLAT_WEEK]))
    assert tenth.value[0, 6] == pytest.approx(20.96, abs=0.005)


@pytest.mark.parametrize("loads", [[200.0] * 7, [0, 0, 0, 300.0, 0, 0, 0], [240, np.nan, 360, 120, 0, 480, 300]])
def test_weeks_without_a_number(loads: list[float]) -> None:
    # no spread; one day of training; a day missing
    assert not rolling_monotony(days(loads)).known.any()


@pytest.mark.parametrize(("effort", "minutes", "expected"), [(3, 270, 810), (8, 30, 240), (5, 180, 900), (8, 75, 600)])
def test_session_load_is_rating_times_minutes(effort: int, minutes: int, expected: int) -> None:
    frame = pl.DataFrame({"effort": [float(effort)], "duration_min": [float(minutes)]})
    assert frame.select(effort_minutes(pl.col("effort"), pl.col("duration_min"))).item() == expected
