"""Local days of sessions are those of the time zone database as Python's own library reads it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest

if TYPE_CHECKING:
    import duckdb

ZONES = (
    "UTC",
    "Europe/Copenhagen",
    "America/New_York",
    "Asia/Kathmandu",
    "Australia/Lord_Howe",
    "Pacific/Apia",
    "America/St_Johns",
)
"""Whole, half and quarter hours; half an hour of summer time; a day that was left out."""
FIRST = datetime(2009, 1, 1, tzinfo=UTC)
INSTANTS = [FIRST + timedelta(minutes=1_787 * number) for number in range(5_000)]


@pytest.mark.parametrize("zone", ZONES)
def test_a_session_has_the_local_day_of_its_beginning(con: duckdb.DuckDBPyConnection, zone: str) -> None:
    con.execute("insert into academy values ('Hill', ?)", [zone]).fetchall()
    con.execute(
        "insert into session by name select 's' || i as session_id, 'p1' as player_id, 'range' as kind, "
        "timestamp '2009-01-01' + to_minutes(1787 * i) as started_at, 'f' as file_id, i as line from range(5000) as t(i)"
    ).fetchall()
    found = [day for (day,) in con.execute("select on_date from session_day order by line").fetchall()]
    assert found == [instant.astimezone(ZoneInfo(zone)).date() for instant in INSTANTS]
