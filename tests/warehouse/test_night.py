from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from warehouse.night import forget_night, last_decided_day, last_known_day, rows_digest, store_night, stored_night

if TYPE_CHECKING:
    import duckdb

TODAY = date(2026, 3, 10)


def session(con: duckdb.DuckDBPyConnection, session_id: str, started_at: str) -> None:
    con.execute(
        "insert into session by name select ? as session_id, 'p1' as player_id, cast(? as timestamp) as started_at, "
        "'range' as kind, 'f' as file_id, 2 as line",
        [session_id, started_at],
    ).fetchall()


def test_without_any_file_the_night_is_today(con: duckdb.DuckDBPyConnection) -> None:
    assert last_known_day(con, TODAY) == TODAY


def test_the_night_is_the_last_local_day_of_which_a_file_says_something(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("insert into academy values ('A', 'America/New_York')").fetchall()
    session(con, "s1", "2026-03-02 02:00")
    assert last_known_day(con, TODAY) == date(2026, 3, 1)
    checkin = "'p1' as player_id, date '2026-03-04' as \"date\", 3.0 as fatigue, 'f' as file_id, 3 as line"
    con.execute(f"insert into checkin by name select {checkin}").fetchall()
    assert last_known_day(con, TODAY) == date(2026, 3, 4)


def test_a_row_with_a_day_in_the_future_waits_for_that_day(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("insert into academy values ('A', 'UTC')").fetchall()
    session(con, "s1", "2026-03-02 12:00")
    session(con, "s2", "2027-03-02 12:00")
    assert last_known_day(con, TODAY) == date(2026, 3, 2)


def test_what_was_decided_later_counts_at_once_and_does_not_move_the_night(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("insert into academy values ('A', 'UTC')").fetchall()
    session(con, "s1", "2026-03-02 12:00")
    for day in ("2026-03-07", "2027-01-01"):
        decided = f"'f1' as flag_id, date '{day}' as decided_on, 'coach' as role, 'watch' as decision, 'f' as file_id, 2 as line"
        con.execute(f"insert into decision by name select {decided}").fetchall()
    night = last_known_day(con, TODAY)
    assert night == date(2026, 3, 2)
    assert last_decided_day(con, night, TODAY) == date(2026, 3, 7)
    assert last_decided_day(con, TODAY, TODAY) == TODAY


def test_any_row_of_a_file_changes_the_digest_and_its_going_changes_it_back(con: duckdb.DuckDBPyConnection) -> None:
    empty = rows_digest(con)
    session(con, "s1", "2026-03-02 12:00")
    assert rows_digest(con) != empty
    con.execute("delete from session").fetchall()
    assert rows_digest(con) == empty


def test_a_night_is_stored_once_and_forgotten_while_it_is_made_anew(con: duckdb.DuckDBPyConnection) -> None:
    assert stored_night(con) is None
    store_night(con, "a", TODAY)
    store_night(con, "b", TODAY)
    assert stored_night(con) == ("b", TODAY)
    forget_night(con)
    assert stored_night(con) is None
