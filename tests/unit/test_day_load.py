from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl

from pipelines.measures.load.day import day_load, session_load, with_days_off, with_days_off_of
from pipelines.measures.load.grid import day_grid
from pipelines.measures.load.series import load_series

TIMED = pl.DataFrame(
    {"session_id": ["timed"], "n_timed": [40], "n_full_effort": [30]},
    schema={"session_id": pl.String, "n_timed": pl.Int64, "n_full_effort": pl.Int64},
)
SCHEMA = {
    "session_id": pl.String, "kind": pl.String, "swings_full": pl.Int64, "swings_part": pl.Int64, "swings_dry": pl.Int64,
    "effort": pl.Float64, "duration_min": pl.Float64, "holes": pl.Int64, "player_id": pl.String, "on_date": pl.Date,
}  # fmt: skip


def day_of(*sessions: tuple[Any, ...]) -> dict[str, Any]:
    """The one day of sessions: id, kind, full, part, dry, effort, minutes, holes."""
    rows = pl.DataFrame([(*one, "p1", date(2026, 3, 1)) for one in sessions], schema=SCHEMA, orient="row")
    return day_load(session_load(rows, TIMED)).row(0, named=True)


def test_a_rest_row_is_no_session_and_a_day_with_a_session_is_no_rest_day() -> None:
    rest = day_of(("s1", "rest", 0, 0, 0, None, None, None))
    assert (rest["n_sessions"], rest["is_rest"], rest["minutes"], rest["effort_min"]) == (0, True, 0.0, 0.0)
    both = day_of(("s1", "rest", 0, 0, 0, None, None, None), ("s2", "range", 50, 10, 5, 5.0, 60.0, 3))
    assert (both["n_sessions"], both["is_rest"], both["swings_all"], both["holes"]) == (1, False, 65, 3)


def test_a_day_with_an_unknown_session_is_unknown() -> None:
    day = day_of(("s1", "range", 50, 10, 5, 5.0, 60.0, None), ("s2", "course", None, 0, 0, None, 240.0, 18))
    assert (day["swings_full"], day["swings_all"], day["effort_min"]) == (None, None, None)
    assert (day["swings_part"], day["minutes"], day["n_sessions"]) == (10, 300.0, 2)


def test_full_effort_is_the_share_of_timed_shots_applied_to_the_swings() -> None:
    assert day_of(("timed", "range", 80, 0, 0, 5.0, 60.0, None))["swings_full_effort"] == 60
    assert day_of(("s1", "speed", 40, 0, 20, 8.0, 30.0, None))["swings_full_effort"] == 60
    assert day_of(("s1", "range", 40, 0, 20, 8.0, 30.0, None))["swings_full_effort"] is None
    assert day_of(("s1", "gym", 0, 0, 0, 8.0, 30.0, None))["swings_full_effort"] == 0


def loads(*days: tuple[str, date, int]) -> pl.DataFrame:
    rows = [(f"{player}-{on}", "range", swings, 0, 0, 5.0, 60.0, None, player, on) for player, on, swings in days]
    return day_load(session_load(pl.DataFrame(rows, schema=SCHEMA, orient="row"), TIMED))


def test_days_without_a_row_become_days_off_from_the_first_day_to_the_day_before_leaving() -> None:
    done = loads(
        ("p1", date(2026, 3, 2), 50), ("p1", date(2026, 3, 5), 60), ("p2", date(2026, 3, 4), 70), ("p3", date(2026, 3, 4), 9)
    )
    players = pl.DataFrame(
        {"player_id": ["p1", "p2", "p3"], "left_on": [None, date(2026, 3, 6), date(2026, 3, 1)]},
        schema_overrides={"left_on": pl.Date},
    )
    found = with_days_off(done, players, date(2026, 3, 7))
    off = found.filter("is_assumed_off").select("player_id", "on_date").rows()
    assert off == [
        *(("p1", date(2026, 3, day)) for day in (3, 4, 6, 7)),
        ("p2", date(2026, 3, 5)),
    ]
    assert found.filter("is_assumed_off").select(
        "is_rest", "n_sessions", "swings_all", "effort_min", "minutes"
    ).unique().rows() == [(True, 0, 0, 0.0, 0.0)]
    assert found.filter(~pl.col("is_assumed_off")).equals(done)
    assert with_days_off(done.clear(), players, date(2026, 3, 7)).is_empty()


def test_a_week_with_three_sessions_is_known_only_when_other_days_are_off() -> None:
    done = loads(*(("p1", date(2026, 3, day), 50) for day in (2, 4, 6)))
    players = pl.DataFrame({"player_id": ["p1"], "left_on": [None]}, schema_overrides={"left_on": pl.Date})
    as_of = date(2026, 3, 8)
    grid = day_grid(done["player_id"], date(2026, 3, 2), as_of)
    unknown = load_series(done, grid).frame().row(-1, named=True)
    assert (unknown["week_swings"], unknown["days_known_7"], unknown["days_assumed_28"]) == (None, 3, 0)
    off = load_series(with_days_off(done, players, as_of), grid).frame().row(-1, named=True)
    assert (off["week_swings"], off["days_known_7"], off["days_assumed_28"], off["is_assumed_off"]) == (150, 7, 4, True)


def test_whose_days_without_a_row_are_off_is_said_by_the_first_group_of_that_day_that_is_named() -> None:
    days = pl.DataFrame(
        {
            "player_id": ["a", "a", "a", "b", "b", "c", "d"],
            "on_date": [date(2026, 3, day) for day in (1, 2, 3, 1, 2, 2, 2)],
            "is_assumed_off": [False, True, True, False, True, True, True],
        }
    )
    groups = pl.DataFrame(
        {
            "player_id": ["a", "a", "b", "b", "c", "d"],
            "place": [1, 2, 1, 2, 1, 1],
            "group_name": ["U16", "north", "north", "U16", "other", "U16"],
            "from_on": [None, None, None, None, None, date(2026, 3, 3)],
            "until_on": [date(2026, 3, 2), None, None, None, None, None],
        }
    )

    def kept(rule: str, **by_group: str) -> list[tuple[str, int]]:
        found = with_days_off_of(days, groups, rule, by_group)
        return [(player, day.day) for player, day in found.select("player_id", "on_date").iter_rows()]

    assert kept("off") == [("a", 1), ("a", 2), ("a", 3), ("b", 1), ("b", 2), ("c", 2), ("d", 2)]
    assert kept("unknown") == [("a", 1), ("b", 1)]
    assert kept("unknown", U16="off") == [("a", 1), ("a", 2), ("b", 1), ("b", 2)]  # a until the 2nd, d from the 3rd on
    assert kept("off", U16="unknown", north="off") == [("a", 1), ("a", 3), ("b", 1), ("b", 2), ("c", 2), ("d", 2)]
