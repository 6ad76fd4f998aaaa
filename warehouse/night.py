"""What the derived tables and the site were last made from, and the last day that is known."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from schemas.files import KINDS
from warehouse.connection import scalar, transaction

if TYPE_CHECKING:
    import duckdb

_INPUTS = (*(kind.table for kind in KINDS.values()), "file", "problem", "federation_norm")

_LAST_DAY = """
with known as (
  select on_date from session_day
  union all select on_date from kind_row
)
select max(on_date) from known where on_date <= $today
"""


def last_known_day(con: duckdb.DuckDBPyConnection, today: date) -> date:
    """Last day, up to ``today``, of which any file says something; ``today`` when none does.

    A night is computed as of this day, not of the clock: where nobody sends anything, nothing new is known, and the
    same files give the same pages whenever they are rendered. A row with a day in the future waits for that day.
    """
    known = con.execute(_LAST_DAY, {"today": today}).fetchall()[0][0]
    return known if isinstance(known, date) else today


def last_received_day(con: duckdb.DuckDBPyConnection, time_zone: str) -> date | None:
    """The academy's local day on which a file was last taken in; None before any was."""
    day = scalar(con, "select cast(timezone(?, timezone('UTC', max(received_at))) as date) from file", [time_zone])
    return day if isinstance(day, date) else None


def last_decided_day(con: duckdb.DuckDBPyConnection, as_of: date, today: date) -> date:
    """The later of ``as_of`` and the last day, up to ``today``, on which something was decided, or a trial declared or ended.

    Decisions, and beginnings and ends of trials, come from what the pages show, on a later day than the last data; they count at
    once.
    """
    days = con.execute(
        """
        select max(decided_on) from decision where decided_on <= $today
        union all select max(began_on) from trial where began_on <= $today
        union all select max(ended_on) from trial where ended_on <= $today
        """,
        {"today": today},
    ).fetchall()
    decided: list[date] = [day for (day,) in days if day is not None]
    return max([as_of, *decided])


def rows_digest(con: duckdb.DuckDBPyConnection) -> str:
    """Text that changes when any row that came from a file changes."""
    sums = ", ".join(f'(select sum(cast(hash(t) as hugeint)) from "{table}" t)' for table in _INPUTS)
    found = con.execute(f"select {sums}").fetchall()[0]
    return ";".join(f"{table}={told}" for table, told in zip(_INPUTS, found, strict=True))


def stored_night(con: duckdb.DuckDBPyConnection) -> tuple[str, date] | None:
    """Fingerprint and day of the night that the derived tables and the site show; None when they are not whole."""
    rows = con.execute("select fingerprint, as_of from night_state").fetchall()
    return (rows[0][0], rows[0][1]) if rows else None


def forget_night(con: duckdb.DuckDBPyConnection) -> None:
    """Say that derived tables and site are being made, so that a crash leads to their being made anew."""
    con.execute("delete from night_state").fetchall()


def store_night(con: duckdb.DuckDBPyConnection, fingerprint: str, as_of: date) -> None:
    """Say what derived tables and site were made from."""
    with transaction(con):
        forget_night(con)
        con.execute("insert into night_state values (?, ?)", [fingerprint, as_of]).fetchall()
