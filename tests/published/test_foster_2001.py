"""Foster et al. 2001, J Strength Cond Res 15(1):109-115, Table 5 (read in the full text), and own weeks by plain arithmetic."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipelines.measures.load.change import monotony, rolling_monotony
from pipelines.measures.load.day import effort_minutes
from pipelines.measures.load.grid import Readings

# Nine session loads as printed. The columns of rating and minutes give three of them differently (5 x 180 is 900, printed 940;
# 8 x 75 is 600, printed 390 twice): the printed loads are taken.
PRINTED_SESSIONS = np.array([940, 50, 840, 280, 180, 390, 50, 390, 280], dtype=np.float64)
PRINTED_DAYS = np.array([940, 50, 1120, 180, 390, 50, 670], dtype=np.float64)
OWN_WEEK = np.array([240, 0, 360, 120, 0, 480, 300], dtype=np.float64)


def test_weekly_load_as_printed() -> None:
    assert monotony(PRINTED_SESSIONS).weekly_load == 3400


def test_printed_monotony_is_of_sessions_with_the_population_spread() -> None:
    assert monotony(PRINTED_SESSIONS, ddof=0).monotony == pytest.approx(1.26, abs=0.005)


def test_printed_strain_multiplies_the_rounded_monotony() -> None:
    week = monotony(PRINTED_SESSIONS, ddof=0)
    assert week.monotony is not None
    assert week.weekly_load * round(week.monotony, 2) == pytest.approx(4284, abs=0.5)
    assert week.strain == pytest.approx(4299.7, abs=0.05)  # unrounded, by plain arithmetic


@pytest.mark.parametrize(
    ("loads", "ddof", "expected"),
    [
        (PRINTED_SESSIONS, 1, 1.1923),  # the same printed loads under the other definitions, by plain arithmetic
        (OWN_WEEK, 1, 1.1720),
        (OWN_WEEK, 0, 1.2659),
    ],
)
def test_other_definitions_give_other_numbers(loads: np.ndarray, ddof: int, expected: float) -> None:
    assert monotony(loads, ddof=ddof).monotony == pytest.approx(expected, abs=5e-5)


@pytest.mark.parametrize(("ddof", "expected"), [(1, 1.1217), (0, 1.2116)])
def test_the_same_week_by_days_gives_another_number_than_printed(ddof: int, expected: float) -> None:
    # Two days held two sessions (840 + 280, 390 + 280): the grouping that gives seven days; values by plain arithmetic.
    by_day = monotony(PRINTED_DAYS, ddof=ddof)
    assert by_day.weekly_load == 3400
    assert by_day.monotony == pytest.approx(expected, abs=5e-5)


@pytest.mark.parametrize(("ddof", "expected"), [(1, 1758.03), (0, 1898.89)])
def test_strain_of_the_own_week(ddof: int, expected: float) -> None:
    assert monotony(OWN_WEEK, ddof=ddof).strain == pytest.approx(expected, abs=0.005)


def test_a_nearly_flat_week_explodes_and_says_nothing_about_its_level() -> None:
    flat = np.array([180, 180, 200, 190, 180, 200, 190], dtype=np.float64)
    week = monotony(flat)
    assert week.monotony == pytest.approx(20.96, abs=0.005)
    assert week.strain == pytest.approx(27665, abs=0.5)
    assert monotony(flat / 10).monotony == pytest.approx(20.96, abs=0.005)


@pytest.mark.parametrize(
    ("loads", "reason"),
    [
        (np.full(7, 200.0), "no_spread"),
        (np.array([0, 0, 0, 300.0, 0, 0, 0]), "too_few_training_days"),
        (np.array([240, np.nan, 360, 120, 0, 480, 300]), "days_missing"),
    ],
)
def test_weeks_without_a_number_say_why(loads: np.ndarray, reason: str) -> None:
    week = monotony(loads)
    assert (week.monotony, week.strain, week.reason) == (None, None, reason)


def test_the_rolling_form_agrees() -> None:
    rolled = rolling_monotony(Readings(np.tile(OWN_WEEK, (1, 2)), np.ones((1, 14), dtype=np.bool_)))
    assert rolled.known[0, 6]
    assert rolled.value[0, 6] == pytest.approx(1.1720, abs=5e-5)
    assert not rolled.known[0, :6].any()


@pytest.mark.parametrize(("effort", "minutes", "expected"), [(3, 270, 810), (8, 30, 240), (5, 180, 900), (8, 75, 600)])
def test_session_load_is_rating_times_minutes(effort: int, minutes: int, expected: int) -> None:
    frame = pl.DataFrame({"effort": [float(effort)], "duration_min": [float(minutes)]})
    assert frame.select(effort_minutes(pl.col("effort"), pl.col("duration_min"))).item() == expected
