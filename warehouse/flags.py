"""Candidates, flags and their events: writing them, and reading them as they stand or stood."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from schemas.core.flags import CANDIDATE, EVENT, FLAG
from schemas.errors import NotFoundError
from warehouse.connection import frame, insert_frame, replace_table

if TYPE_CHECKING:
    from datetime import date

    import duckdb


def replace_candidates(con: duckdb.DuckDBPyConnection, kinds: tuple[str, ...], rows: pl.DataFrame) -> int:
    """Put the candidates of some kinds in place of those that were there; call it within a transaction.

    ``rows`` has the columns of ``flag_candidate`` (:func:`pipelines.measures.flags.candidates.candidates` makes them).
    """
    con.execute("delete from flag_candidate where list_contains(?, kind)", [list(kinds)]).fetchall()
    return insert_frame(con, CANDIDATE.name, rows.select(CANDIDATE.names))


def replace_candidates_since(
    con: duckdb.DuckDBPyConnection, kinds: tuple[str, ...], since: date | None, rows: pl.DataFrame
) -> int:
    """The same of the nights from a day on (None: of all)."""
    if since is None:
        return replace_candidates(con, kinds, rows)
    con.execute("delete from flag_candidate where list_contains(?, kind) and on_date >= ?", [list(kinds), since]).fetchall()
    return insert_frame(con, CANDIDATE.name, rows.select(CANDIDATE.names))


def all_candidate_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every candidate of every kind, by night, player and stream."""
    return frame(con, "select * from flag_candidate order by on_date, player_id, kind, metric, region, club_group, device_id")


def replace_flags(con: duckdb.DuckDBPyConnection, flags: pl.DataFrame, events: pl.DataFrame) -> None:
    """Put flags and events in place of those that were there; call it within a transaction."""
    replace_table(con, FLAG.name, flags.select(FLAG.names))
    replace_table(con, EVENT.name, events.select(EVENT.names))


def flag_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every flag, by raised_on and id."""
    return frame(con, "select * from flag order by raised_on, flag_id")


def event_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every event, by night and in the order in which it happened."""
    order = "case event when 'raised' then 0 when 'alerted' then 1 when 'held' then 2 else 3 end"
    return frame(con, f"select * from flag_event order by on_date, flag_id, {order}")


def told_now(con: duckdb.DuckDBPyConnection, flag_id: str = "") -> pl.DataFrame:
    """What the pages know of each flag beside its own columns: the player's alias, value of today and course (empty: of all)."""
    columns = "flag_id, alias, now_on, now_value, now_low, now_high, now_is_past, course"
    return frame(con, f"select {columns} from flag_shown where ? in ('', flag_id)", [flag_id])


def visible_flag(con: duckdb.DuckDBPyConnection, flag_id: str, reader: str = "") -> dict[str, Any]:
    """One flag.

    Parameters
    ----------
    con : duckdb connection
    flag_id : str
    reader : {"", "coach", "physio"}
        Who asks; empty: somebody who may see every flag.

    Raises
    ------
    NotFoundError
        When there is none of that id, or none that this reader may see: both are told in the same words.
    """
    rows = frame(con, "select * from flag where flag_id = ? and (? = '' or audience in (?, 'both'))", [flag_id, reader, reader])
    if rows.is_empty():
        raise NotFoundError(f"There is no flag {flag_id}.", "`speedworth flags --all` lists them; for a file give its name.")
    return rows.row(0, named=True)


def events_of_flag(con: duckdb.DuckDBPyConnection, flag_id: str) -> pl.DataFrame:
    """What happened to one flag, in order."""
    return event_rows(con).filter(pl.col("flag_id") == flag_id)


_ORIGIN = """
select what, source, on_date, detail, device_id, file_name, file_id, first_line, last_line, n_rows, player_id, club_group
from source_line
where list_contains(?, source)
order by on_date, what, source, first_line
"""


def origins(con: duckdb.DuckDBPyConnection, flag: dict[str, Any]) -> pl.DataFrame:
    """Files and lines from which a flag's evidence was read: one row per source, file and club."""
    rows = frame(con, _ORIGIN, [list(flag["sources"])])
    if flag["player_id"]:
        rows = rows.filter(pl.col("player_id") == flag["player_id"])
    if flag["club_group"]:
        rows = rows.filter((pl.col("what") != "shots") | (pl.col("club_group") == flag["club_group"]))
    return rows.drop("player_id", "club_group").with_columns(pl.col("first_line", "last_line", "n_rows").cast(pl.Int64))
