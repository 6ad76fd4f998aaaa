"""Rows that are older than an academy keeps them: finding them by their last day, and taking them out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from schemas.files import KINDS
from warehouse.connection import frame, registered
from warehouse.night import forget_night
from warehouse.persons import recount

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.files import FileKind

    Connection = duckdb.DuckDBPyConnection

LINES = pl.Schema({"file_id": pl.String(), "line": pl.Int64()})


def day_columns(kind: FileKind) -> tuple[str, ...]:
    """Columns of a kind with the days and instants that a row speaks of."""
    return tuple(column.name for column in kind.columns if column.field.kind in {"day", "instant"})


def old_rows(con: Connection, kind: FileKind, before: date) -> pl.DataFrame:
    """``file_id``, ``line`` of rows that count and whose last day lies before that; shots go with their session."""
    if kind.name == "shots":
        return frame(
            con,
            "select shot.file_id, shot.line from shot join session using (session_id) where started_at < ? order by all",
            [before],
        )
    last = ", ".join(f'cast("{name}" as date)' for name in day_columns(kind))
    return frame(con, f'select file_id, line from "{kind.table}" where greatest({last}) < ? order by all', [before])


def expire_lines(con: Connection, kind: FileKind, lines: pl.DataFrame) -> int:
    """Take the rows at these lines out, those that were replaced or refused too; returns how many counted. In a transaction."""
    with registered(con, "old_lines", lines.select(list(LINES)).cast(LINES).unique()):
        told = frame(
            con,
            f"""
            select 'live' as what, file_id, line from "{kind.table}" semi join old_lines using (file_id, line)
            union all
            select 'replaced', file_id, line from superseded_row semi join old_lines using (file_id, line) where kind = ?
            union all
            select 'refused', file_id, line from problem semi join old_lines using (file_id, line)
            """,
            [kind.name],
        )
        if told.is_empty():
            return 0
        recount(con, told)
        here = "(file_id, line) in (select (file_id, line) from old_lines)"
        con.execute(f'delete from "{kind.table}" where {here}').fetchall()
        con.execute(f"delete from superseded_row where kind = ? and {here}", [kind.name]).fetchall()
        con.execute(f"delete from problem where {here}").fetchall()
    if kind.name == "decisions":
        con.execute("delete from decision_subject where flag_id not in (select flag_id from decision)").fetchall()
    forget_night(con)
    return told.filter(what="live").height


def received_days(con: Connection, names: tuple[str, ...]) -> pl.DataFrame:
    """Kept files of these kinds: ``file_id``, ``name``, ``kind``, ``mapping``, ``kept_as``, ``status``, ``received_on`` (UTC)."""
    known = [KINDS[name].name for name in names]
    return frame(
        con,
        """
        select file_id, name, kind, coalesce(mapping, '') as mapping, kept_as, status, cast(received_at as date) as received_on
        from file where kept_as <> '' and list_contains(?, kind) order by file_id
        """,
        [known],
    )
