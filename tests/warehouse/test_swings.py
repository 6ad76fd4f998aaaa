"""One week of one player, seen from every page that counts swings: Squad, Load, the plan's gap and the programme agree."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.stages.measure.load import measure_load
from pipelines.stages.measure.programme import measure_programme
from schemas.academy import Academy
from warehouse.connection import frame

if TYPE_CHECKING:
    import duckdb

MONDAY = date(2026, 3, 2)
SUNDAY = MONDAY + timedelta(days=6)


def seed(con: duckdb.DuckDBPyConnection, *, rest: bool) -> None:
    """Typed 40 (and 30 shots recorded) on Monday, 25 recorded on Wednesday, typed 60 on Saturday; other days off or unknown."""
    con.execute("insert into academy values ('Hill', 'UTC')").fetchall()
    con.execute("insert into player by name select 'p1' as player_id, 'Alder' as alias, 'f' as file_id, 2 as line").fetchall()
    typed: dict[int, tuple[str, int | None]] = {0: ("range", 40), 2: ("range", None), 5: ("range", 60)}
    if rest:
        typed |= dict.fromkeys((1, 3, 4, 6), ("rest", None))
    for day, (kind, swings) in sorted(typed.items()):
        started = datetime(2026, 3, 2 + day, 10, tzinfo=None)  # noqa: DTZ001 - stored without a zone, in UTC
        con.execute(
            "insert into session by name select ? as session_id, 'p1' as player_id, ? as started_at, ? as kind, "
            "60.0 as duration_min, ? as swings_full, 'f' as file_id, ? as line",
            [f"s{day}", started, kind, swings, day],
        ).fetchall()
    for session, n in (("s0", 30), ("s2", 25)):
        con.execute(
            "insert into shot by name select ? as session_id, 'p1' as player_id, i as shot_no, timestamp '2026-03-02 10:00' as "
            "struck_at, 'driver' as club, 45.0 as club_speed_mps, 'f' as file_id, i as line from range(?) as numbers(i)",
            [session, n],
        ).fetchall()
    con.execute(
        "insert into plan by name select 'p1' as player_id, date '2026-03-02' as week_starting, 'speed' as phase, "
        "250 as swings_full, 'f' as file_id, 2 as line"
    ).fetchall()


def weeks_seen(con: duckdb.DuckDBPyConnection, academy: Academy) -> dict[str, float | None]:
    """The week's swings as each page reads them."""
    measure_load(con, academy, SUNDAY)
    measure_programme(con, academy, SUNDAY)
    plan = frame(con, "select done from finished_plan_week")
    return {
        "squad": frame(con, "select week_swings from mart_squad").item(),
        "load": frame(con, "select week_swings from mart_load_now").item(),
        "plan": plan.item() if plan.height else None,
        "programme": frame(con, "select done_full from mart_phase").item(),
    }


def test_typed_else_recorded_is_what_every_page_counts(con: duckdb.DuckDBPyConnection) -> None:
    seed(con, rest=True)
    assert weeks_seen(con, Academy("Hill", "UTC")) == {"squad": 125.0, "load": 125.0, "plan": 125.0, "programme": 125}
    assert frame(con, "select done_share from mart_phase").item() == pytest.approx(0.5)


def test_a_week_of_three_known_days_is_unknown_on_every_page(con: duckdb.DuckDBPyConnection) -> None:
    seed(con, rest=False)
    assert set(weeks_seen(con, Academy("Hill", "UTC")).values()) == {None}


def test_where_a_day_without_a_row_is_off_every_page_counts_the_same(con: duckdb.DuckDBPyConnection) -> None:
    seed(con, rest=False)
    assert set(weeks_seen(con, Academy("Hill", "UTC", day_without_row="off")).values()) == {125.0}
    assert frame(con, "select days_assumed_28 from mart_load_now").item() == 4
