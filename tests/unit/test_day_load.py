from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl

from pipelines.measures.load.day import day_load, session_load

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
