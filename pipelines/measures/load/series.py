"""Every daily load number of every player at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pipelines.measures.load.change import described_ratio, rolling_monotony, session_jumps, week_changes
from pipelines.measures.load.grid import Readings, Truths, readings
from pipelines.measures.load.windows import (
    EWMA_PROVISIONAL_DAYS,
    EWMA_SILENT_DAYS,
    MONTH_AT_LEAST,
    MONTH_DAYS,
    WEEK_AT_LEAST,
    WEEK_DAYS,
    days_known,
    days_since,
    earlier,
    ewma,
    largest_before,
    percentile_in_own_history,
    run_length,
    trailing_mean,
    trailing_sum,
)

if TYPE_CHECKING:
    import polars as pl

    from pipelines.measures.load.grid import DayGrid

JUMP_DAYS = 30
LOOK_BACK_DAYS = 84
PERCENTILE_AT_LEAST = 84
EASY_EFFORT = 3.0
EASY_SHARE = 0.5
WEEK_FLOOR_SWINGS = 100.0
WEEK_FLOOR_EFFORT_MIN = 300.0
RATIO_FLOOR_SWINGS = 15.0
"""Own choices. An easy day: rest, or no session rated above 3, or at most half of the player's usual training day. Below the
floors a per cent of next to nothing is not given."""

DAY_COLUMNS = (
    "n_sessions", "swings_full", "swings_part", "swings_dry", "swings_all", "swings_full_effort", "holes", "minutes",
    "effort_min", "largest_session_swings", "largest_session_full_effort", "hardest_effort",
)  # fmt: skip


@dataclass(frozen=True)
class LoadSeries:
    """Daily load of every player of a grid.

    Attributes
    ----------
    grid : DayGrid
    day : dict of str to Readings
        What each day holds (``DAY_COLUMNS``).
    is_rest, is_known, is_assumed_off : (players, days) arrays of bool
    derived : dict of str to Readings
        Windows, lines, jumps and runs.
    """

    grid: DayGrid
    day: dict[str, Readings]
    is_rest: Truths
    is_known: Truths
    is_assumed_off: Truths
    derived: dict[str, Readings]

    def frame(self, begin: int = 0) -> pl.DataFrame:
        """One row per player and day (of the grid, from ``begin`` on) from the player's first known day on; unknown is null."""
        started = np.maximum.accumulate(self.is_known, axis=1)
        told: dict[str, Readings] = {**self.day, **self.derived}
        columns: dict[str, Readings | Truths] = {"is_known": self.is_known[:, begin:], "is_rest": self.is_rest[:, begin:]}
        columns |= {name: cells.since(begin) for name, cells in told.items()}
        columns["is_assumed_off"] = self.is_assumed_off[:, begin:]
        columns["days_assumed_28"] = _count(days_known(self.is_assumed_off, MONTH_DAYS)).since(begin)
        return self.grid.since(begin).frame(columns, keep=started[:, begin:])


def load_series(day_rows: pl.DataFrame, grid: DayGrid, begin: int = 0) -> LoadSeries:
    """Windows, lines, jumps and runs of load, each from the day and the days before it alone.

    Parameters
    ----------
    day_rows : polars.DataFrame
        As :func:`pipelines.measures.load.day.day_load` returns them.
    grid : DayGrid
    begin : int
        Day of the grid from which on ``month_percentile`` is asked for: it costs most.

    Returns
    -------
    LoadSeries
        ``week_*`` and ``month_*``: sums over 7 and 28 days scaled by the days present. ``acute_*``, ``chronic_*``:
        exponentially weighted daily means, spans 7 and 28. ``jump_*``: the day over the largest day of the
        30 days before, minus 1; two sessions of a day are one load on one back. ``largest_before_*``: that largest.
        ``usual_week_swings``: mean week of the four before. ``ratio_swings``: a description.

    Notes
    -----
    Swings and effort x minutes are never added to each other.

    Source: [Williams2017], [Frandsen2025], [Foster1998], [BacheMathiesen2024] for keeping acute and chronic apart
    Checked: tests/published/test_williams_2017.py, tests/property/test_load_windows.py
    """
    day = grid.spread(day_rows, DAY_COLUMNS)
    row, column, inside = grid.places(day_rows)
    known, rest, assumed = (np.zeros(grid.shape, dtype=np.bool_) for _ in range(3))
    known[row[inside], column[inside]] = True
    rest[row[inside], column[inside]] = day_rows["is_rest"].to_numpy()[inside]
    assumed[row[inside], column[inside]] = day_rows["is_assumed_off"].to_numpy()[inside]
    derived = {**_windows(day, begin), **_lines(day), **_jumps(day), **_weeks(day), **_runs(day, rest, known)}
    return LoadSeries(grid, day, rest, known, assumed, derived)


def _windows(day: dict[str, Readings], begin: int) -> dict[str, Readings]:
    found = {}
    for short, name in (("swings", "swings_all"), ("full_effort", "swings_full_effort"), ("effort_min", "effort_min")):
        found[f"week_{short}"] = trailing_sum(day[name], WEEK_DAYS, WEEK_AT_LEAST)
        found[f"month_{short}"] = trailing_sum(day[name], MONTH_DAYS, MONTH_AT_LEAST)
    found["days_known_7"] = _count(days_known(day["swings_all"].known, WEEK_DAYS))
    found["days_known_28"] = _count(days_known(day["swings_all"].known, MONTH_DAYS))
    found["month_percentile"] = percentile_in_own_history(found["month_swings"], PERCENTILE_AT_LEAST, begin)
    return found


def _count(value: np.ndarray) -> Readings:
    return readings(value, np.ones(value.shape, dtype=np.bool_))


def _lines(day: dict[str, Readings]) -> dict[str, Readings]:
    found = {}
    for short, name in (("swings", "swings_all"), ("effort_min", "effort_min")):
        found[f"acute_{short}"] = ewma(day[name], WEEK_DAYS, at_least=WEEK_AT_LEAST)
        found[f"chronic_{short}"] = ewma(day[name], MONTH_DAYS, at_least=EWMA_SILENT_DAYS)
    n_so_far = np.cumsum(day["swings_all"].known, axis=1)
    provisional = (n_so_far < EWMA_PROVISIONAL_DAYS).astype(np.float64)
    found["is_provisional"] = readings(provisional, found["chronic_swings"].known)
    return found


def _jumps(day: dict[str, Readings]) -> dict[str, Readings]:
    found = {}
    for short, name in (("swings", "swings_all"), ("full_effort", "swings_full_effort")):
        before = largest_before(day[name], JUMP_DAYS)
        found[f"largest_before_{short}"] = before
        found[f"jump_{short}"] = session_jumps(day[name], before)
    return found


def _weeks(day: dict[str, Readings]) -> dict[str, Readings]:
    found = {}
    for short, name, floor in (
        ("swings", "swings_all", WEEK_FLOOR_SWINGS),
        ("full_effort", "swings_full_effort", WEEK_FLOOR_SWINGS / 2),
        ("effort_min", "effort_min", WEEK_FLOOR_EFFORT_MIN),
    ):
        week = trailing_sum(day[name], WEEK_DAYS, WEEK_AT_LEAST)
        usual = earlier(trailing_sum(day[name], MONTH_DAYS, MONTH_AT_LEAST), WEEK_DAYS)
        difference, fraction = week_changes(week, earlier(week, WEEK_DAYS), floor)
        found[f"week_difference_{short}"], found[f"week_change_{short}"] = difference, fraction
        found[f"usual_week_{short}"] = Readings(usual.value / 4.0, usual.known)
        found[f"largest_week_before_{short}"] = earlier(largest_before(week, LOOK_BACK_DAYS - WEEK_DAYS), WEEK_DAYS - 1)
    week_mean = trailing_mean(day["swings_all"], WEEK_DAYS, WEEK_AT_LEAST)
    base = earlier(trailing_mean(day["swings_all"], 21, 15), WEEK_DAYS)
    found["ratio_swings"] = described_ratio(week_mean, base, RATIO_FLOOR_SWINGS)
    found["monotony"] = rolling_monotony(day["effort_min"])
    week_effort = trailing_sum(day["effort_min"], WEEK_DAYS, WEEK_AT_LEAST)
    strain_known = found["monotony"].known & week_effort.known
    found["strain"] = readings(found["monotony"].value * week_effort.value, strain_known)
    return found


def easy_days(day: dict[str, Readings], rest: Truths) -> Readings:
    """1 on an easy day, 0 on another known day: rest, nothing rated above 3, or at most half of the usual training day.

    Notes
    -----
    The usual training day is the mean effort x minutes of the days with any, over the 28 days before; without it only rest and
    the rating count. A day on which neither the rating nor effort x minutes is known is unknown. Own choice.
    """
    effort, hardest = day["effort_min"], day["hardest_effort"]
    trained = effort.where(effort.value > 0)
    usual = earlier(trailing_mean(trained, MONTH_DAYS, 6), 1)
    light = effort.known & usual.known & (effort.value <= EASY_SHARE * usual.value)
    easy = rest | (hardest.known & (hardest.value <= EASY_EFFORT)) | light
    return readings(easy.astype(np.float64), rest | hardest.known | effort.known)


def _runs(day: dict[str, Readings], rest: Truths, known: Truths) -> dict[str, Readings]:
    easy = easy_days(day, rest)
    swings = day["swings_all"]
    hard_run = run_length(easy.known & (easy.value == 0))
    return {
        "days_since_easy": days_since(easy.value > 0, easy.known),
        "hard_days_in_a_row": readings(hard_run, known),
        "days_since_swing_free": days_since(swings.value == 0, swings.known),
        "swing_days_in_a_row": readings(run_length(swings.known & (swings.value > 0)), known),
    }
