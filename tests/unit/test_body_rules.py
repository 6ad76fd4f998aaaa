"""Load and body candidates against their definitions, day by day in plain Python."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.body.items import body_items
from pipelines.measures.flags.body_rules import body_rises, load_flats, load_jumps
from pipelines.measures.load.day import day_load, session_load
from pipelines.measures.load.grid import day_grid
from pipelines.measures.load.series import LoadSeries, load_series
from tests.benchmarks.body.definition import day_jumps, week_jumps

FIRST = dt.date(2026, 1, 1)
NO_SHOTS = pl.DataFrame(schema={"session_id": pl.String, "n_timed": pl.Int64, "n_full_effort": pl.Int64})
SESSION = {
    "duration_min": pl.Float64, "effort": pl.Float64, "swings_full": pl.Int64, "swings_part": pl.Int64, "swings_dry": pl.Int64,
    "holes": pl.Int64,
}  # fmt: skip


def series(days: list[tuple[int, int | None]], effort: float = 6.0, n_days: int = 0) -> LoadSeries:
    """Load of one player: (day number, swings); 0 swings is a rest day, None a session without a count; other days are
    unknown."""
    rows = [
        {
            "session_id": f"s{number}", "player_id": "P1", "on_date": FIRST + dt.timedelta(days=day),
            "kind": "rest" if swings == 0 else "range", "duration_min": 60.0, "effort": effort, "swings_full": swings,
            "swings_part": 0, "swings_dry": 0, "holes": None,
        }
        for number, (day, swings) in enumerate(days)
    ]  # fmt: skip
    schema = {"session_id": pl.String, "player_id": pl.String, "on_date": pl.Date, "kind": pl.String, **SESSION}
    loads = day_load(session_load(pl.DataFrame(rows, schema=schema), NO_SHOTS))
    last = max(n_days - 1, *(day for day, _ in days))
    return load_series(loads, day_grid(loads["player_id"], FIRST, FIRST + dt.timedelta(days=last)))


def opened(rows: pl.DataFrame, metric: str = "day_swings") -> list[int]:
    chosen = rows.filter(pl.col("metric") == metric, "opens")
    return [(day - FIRST).days for day in chosen["on_date"]]


@pytest.mark.parametrize("seed", range(12))
def test_a_days_jump_is_exactly_its_definition(seed: int) -> None:
    rng = np.random.default_rng(seed)
    swings = {day: int(rng.choice([0, rng.integers(40, 140), rng.integers(100, 320)], p=[0.4, 0.55, 0.05])) for day in range(200)}
    swings = {day: value for day, value in swings.items() if rng.random() < 0.85}
    assert opened(load_jumps(series(list(swings.items()), n_days=200))) == day_jumps(swings, 200)


@pytest.mark.parametrize("seed", range(8))
def test_a_weeks_jump_is_exactly_its_definition(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    swings = {day: int(rng.choice([0, rng.integers(40, 140)], p=[0.5, 0.5])) for day in range(200)}
    swings |= {day: int(rng.integers(120, 260)) for day in range(150, 158)}
    swings = {day: value for day, value in swings.items() if rng.random() < 0.9}
    assert opened(load_jumps(series(list(swings.items()), n_days=200)), "week_swings") == week_jumps(swings, 200)


def usual(n_days: int) -> list[tuple[int, int | None]]:
    return [(day, (0, 90, 110, 0, 100, 120, 0)[day % 7]) for day in range(n_days)]


@pytest.mark.parametrize(("more", "nights"), [(0, []), (1, [137, 138, 139])])
def test_a_week_of_exactly_the_limit_is_no_jump_and_one_swing_more_is(more: int, nights: list[int]) -> None:
    """250 swings a week, then 400: 1.6 times, and 150 more. Days 138 and 139 are off."""
    days = [(day, 50 if day % 7 < 5 else 0) for day in range(133)] + [(day, 80 if day % 7 < 5 else 0) for day in range(133, 140)]
    days[137] = (137, 80 + more)
    assert opened(load_jumps(series(days)), "week_swings") == nights


def test_a_holiday_and_then_the_usual_week_is_silent() -> None:
    days = [(day, 0 if 70 <= day < 84 else swings) for day, swings in usual(130)]
    assert load_jumps(series(days)).filter("opens").is_empty()


def test_a_holiday_that_nobody_recorded_is_silent_too() -> None:
    days = [(day, swings) for day, swings in usual(130) if not 70 <= day < 84]
    assert load_jumps(series(days)).filter("opens").is_empty()


def test_the_night_after_closes_the_stream() -> None:
    rows = load_jumps(series([*usual(60), (60, 300), (61, 0), (62, 0)])).filter(pl.col("metric") == "day_swings")
    assert rows.select("opens", "holds").rows() == [(True, True), (False, False)]
    assert rows["reasons"].to_list()[0] == ["day_swings", "class:large"]


def test_a_doubled_day_is_certain_and_a_smaller_one_is_not() -> None:
    for swings, certain in ((240, False), (241, True)):
        rows = load_jumps(series([*usual(60), (60, swings)])).filter(pl.col("metric") == "day_swings", "opens")
        assert rows["certain"].to_list() == [certain]


def test_a_week_after_a_month_of_next_to_nothing_is_so_many_times_the_usual() -> None:
    """Four swings in the four weeks before: one a week."""
    rows = load_jumps(series([*((day, 4 if day == 50 else 0) for day in range(70)), (70, 200)]))
    (week,) = rows.filter(pl.col("metric") == "week_swings", "opens").iter_rows(named=True)
    assert (week["value"], week["baseline"], week["strength"]) == (200.0, 1.0, 200.0)


def test_an_unknown_count_makes_no_jump() -> None:
    assert load_jumps(series([*usual(60), (60, None)])).filter("opens").is_empty()


def test_fourteen_days_without_an_easy_one() -> None:
    assert [(day - FIRST).days for day in load_flats(series([(day, 80) for day in range(15)])).filter("opens")["on_date"]] == [
        13,
        14,
    ]


def test_a_rest_day_an_easy_day_or_an_unknown_day_ends_the_run() -> None:
    for gap in ([(7, 0)], []):
        days = [(day, 80) for day in range(20) if day != 7] + gap
        assert load_flats(series(days)).filter("opens").is_empty()  # type: ignore[arg-type] # a list of pairs


def test_flat_easy_weeks_are_silent() -> None:
    assert load_flats(series([(day, 40) for day in range(40)], effort=3.0)).is_empty()


def checkins(value: np.ndarray, answered: np.ndarray, name: str = "stiff_lower_back") -> pl.DataFrame:
    row, day = np.nonzero(answered)
    return pl.DataFrame(
        {
            "player_id": [f"P{number:02d}" for number in row],
            "on_date": [FIRST + dt.timedelta(days=int(number)) for number in day],
            name: value[answered],
        }
    )


def rises(value: np.ndarray, answered: np.ndarray, name: str = "stiff_lower_back") -> pl.DataFrame:
    frame = checkins(value, answered, name)
    grid = day_grid(frame["player_id"], FIRST, FIRST + dt.timedelta(days=value.shape[1] - 1))
    item = next(body_items(frame, grid, (name,)))
    return body_rises(item, grid, np.ones(grid.shape), np.full(grid.n_days, grid.shape[0]))


def stiff_squad(seed: int = 1) -> np.ndarray:
    return np.clip(np.round(np.random.default_rng(seed).normal(2, 0.9, (8, 150))), 0, 10)


def test_a_stiff_region_opens_holds_and_ends() -> None:
    value = stiff_squad()
    value[0, 110:122] += 3
    rows = rises(value, np.ones(value.shape, dtype=bool)).filter(pl.col("player_id") == "P00")
    first = rows.filter("opens")["on_date"].min()
    assert first is not None
    assert 1 <= (first - FIRST).days - 110 <= 5  # type: ignore[operator] # a day
    row = rows.filter("opens").row(0, named=True)
    assert (row["kind"], row["region"], row["certain"]) == ("body_stiff", "lower_back", False)
    assert row["low"] < row["value"] < row["high"]
    assert row["baseline"] == pytest.approx(2, abs=0.4)
    assert not rows.filter(pl.col("on_date") > first)["holds"].all()


def test_short_sleep_is_told_in_hours() -> None:
    value = 8.0 + np.random.default_rng(2).normal(0, 0.5, (6, 120))
    value[0, 100:] -= 2.5
    rows = rises(value, np.ones(value.shape, dtype=bool), "sleep_h").filter("opens", pl.col("player_id") == "P00")
    row = rows.row(0, named=True)
    assert (row["kind"], row["metric"]) == ("body_fatigue", "sleep_h")
    assert row["value"] < 6.8 < row["baseline"]
    assert row["low"] < row["value"] < row["high"]


def test_a_history_cut_short_says_the_same_of_its_nights() -> None:
    value = stiff_squad(3)
    value[1, 90:100] += 3
    answered = np.random.default_rng(4).random(value.shape) < 0.8
    cut = FIRST + dt.timedelta(days=119)
    whole = rises(value, answered).filter(pl.col("on_date") <= cut)
    part = rises(value[:, :120], answered[:, :120])
    assert whole.drop("n_players").equals(part.drop("n_players"))
    days = [(day, int(swings)) for day, swings in enumerate(np.random.default_rng(5).integers(0, 250, 200))]
    full, short = load_jumps(series(days)), load_jumps(series(days[:150]))
    assert full.filter(pl.col("on_date") < FIRST + dt.timedelta(days=150)).equals(short)
