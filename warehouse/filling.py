"""What a newer row takes over from the one that it replaces: answers of the morning, columns that a file did not have."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from schemas.files import FileKind
from warehouse.connection import frame, insert_frame, registered
from warehouse.keys import row_key

if TYPE_CHECKING:
    import duckdb

    Connection = duckdb.DuckDBPyConnection


def rows_with_part(con: Connection, kind: FileKind, parts: pl.Series) -> pl.DataFrame:
    """Live rows of these parts, whole, with ``part``."""
    rows = frame(con, f'select * from "{kind.table}" order by file_id, line').with_columns(row_key(kind.replaces).alias("part"))
    return rows.filter(pl.col("part").is_in(parts.unique().implode()))


def take_over(
    con: Connection, kind: FileKind, winners: pl.DataFrame, new: pl.DataFrame, older: pl.DataFrame, versions: pl.DataFrame
) -> pl.DataFrame:
    """The winning rows of a batch with what they leave open taken from older ones; a winner that was there is filled too.

    Parameters
    ----------
    con : duckdb connection
        In a transaction.
    kind : FileKind
    winners, new : polars.DataFrame
        Rows of the batch that are to be loaded, and all of its rows; with ``part``.
    older : polars.DataFrame
        Rows that were live before, with ``part``.
    versions : polars.DataFrame
        ``file_id``, ``version``, ``absent``.
    """
    names = new.columns
    among = pl.concat([new, older.select(names)]).join(versions, on="file_id", maintain_order="left")
    full = _filled(kind, among.sort("part", "version")).select(names)
    was_there = full.join(older, on=["file_id", "line"], how="semi").join(
        among.sort("version").group_by("part").agg(pl.col("file_id").last()), on=["part", "file_id"], how="semi"
    )
    with registered(con, "filled_rows", was_there.select("file_id", "line")):
        con.execute(
            f'delete from "{kind.table}" as own using filled_rows as f where own.file_id = f.file_id and own.line = f.line'
        ).fetchall()
    insert_frame(con, kind.table, was_there.drop("part"))
    taken = full.join(winners, on=["file_id", "line"], how="semi", maintain_order="left")
    return pl.concat([winners.join(taken, on=["file_id", "line"], how="anti", maintain_order="left"), taken])


def _filled(kind: FileKind, rows: pl.DataFrame) -> pl.DataFrame:
    """Rows by part and version; a cell that says nothing has what the version before it says."""
    rows = rows.with_row_index("at")
    found = []
    for name in kind.names:
        if name in kind.key:
            continue
        says = pl.col(name).is_not_null()
        if kind.fills == "absent columns":
            says |= ~pl.col("absent").str.split(",").list.contains(name)
        source = rows.select(pl.when(says).then("at").forward_fill().over("part")).to_series()
        found.append(rows[name].gather(source))
    return rows.with_columns(found).drop("at")
