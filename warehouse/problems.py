"""Problems that a later file brought right are closed: a corrected row by its key, a corrected file by its name."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from schemas.files import FileKind
from warehouse.connection import frame, insert_frame, registered
from warehouse.keys import row_key

if TYPE_CHECKING:
    import duckdb

    Connection = duckdb.DuckDBPyConnection


def _open_elsewhere(con: Connection, kind: FileKind) -> pl.DataFrame:
    """Open problems of rows in files that are not in this batch (``asked``)."""
    return frame(
        con,
        """
        select problem.file_id, problem.row_key, file.modified_at, file.name
        from problem join file using (file_id) anti join asked using (file_id)
        where file.kind = ? and not problem.closed and problem.severity in ('error', 'emptied') and problem.row_key <> ''
        """,
        [kind.name],
    )


def _newer_rows_elsewhere(con: Connection, kind: FileKind) -> pl.DataFrame:
    """Keys of live rows in files that are not in this batch but newer than one of it."""
    columns = ", ".join(f'live."{name}"' for name in kind.key)
    rows = frame(
        con,
        f"""
        with newer as (
          select file_id, modified_at, name from file anti join asked using (file_id)
          where kind = ? and modified_at >= (select min(modified_at) from file semi join asked using (file_id))
        )
        select {columns}, file_id, modified_at, name from "{kind.table}" as live join newer using (file_id)
        """,
        [kind.name],
    )
    return rows.select(row_key(kind.key).alias("row_key"), "file_id", "modified_at", "name")


def _settled(problems: pl.DataFrame, rows: pl.DataFrame) -> pl.DataFrame:
    """Problems whose key a row of a newer file has."""
    met = problems.join(rows, on="row_key", suffix="_row").filter(pl.col("file_id") != pl.col("file_id_row"))
    same_time = pl.col("modified_at_row") == pl.col("modified_at")
    is_newer = (pl.col("modified_at_row") > pl.col("modified_at")) | (same_time & (pl.col("name_row") > pl.col("name")))
    return met.filter(is_newer).select("file_id", "row_key").unique()


def close_problems(con: Connection, kind: FileKind, rows: pl.DataFrame, problems: pl.DataFrame, files: pl.DataFrame) -> None:
    """Close what the rows of a batch brought right, and what of the batch's own problems a newer file had settled before.

    Parameters
    ----------
    con : duckdb connection
        In a transaction, after the batch was loaded.
    kind : FileKind
    rows : polars.DataFrame
        Good rows of the batch, with ``file_id``.
    problems : polars.DataFrame
        Problems of the batch.
    files : polars.DataFrame
        Ledger rows of the batch.
    """
    versions = files.select("file_id", "modified_at", "name")
    own = problems.filter(pl.col("severity").is_in(["error", "emptied"]), pl.col("row_key") != "").select("file_id", "row_key")
    with registered(con, "asked", files.select("file_id")):
        waiting = _open_elsewhere(con, kind)
        elsewhere = _newer_rows_elsewhere(con, kind) if not own.is_empty() else None
    waiting = pl.concat([waiting, own.join(versions, on="file_id").select(waiting.columns)])
    if waiting.is_empty():
        return
    keyed = rows.select(row_key(kind.key).alias("row_key"), "file_id").join(versions, on="file_id")
    settled = _settled(waiting, keyed)
    if elsewhere is not None and not elsewhere.is_empty():
        settled = pl.concat([settled, _settled(own.join(versions, on="file_id"), elsewhere)])
    if not settled.is_empty():
        _close(con, settled)


def _close(con: Connection, settled: pl.DataFrame) -> None:
    with registered(con, "settled", settled):
        con.execute(
            """
            update problem set closed = true from settled
            where problem.file_id = settled.file_id and problem.row_key = settled.row_key
            """
        ).fetchall()


def close_problems_of_files(con: Connection) -> None:
    """Close problems that name no row when a newer file of the same name was loaded, and ``mostly_bad`` when no row is left."""
    con.execute(
        """
        update problem set closed = true
        from file
        where problem.file_id = file.file_id and not problem.closed and (problem.severity = 'held' or problem.row_key = '')
          and exists (
            select 1 from file as newer
            where newer.name = file.name and newer.kind = file.kind and newer.status <> 'held'
              and (newer.modified_at, newer.file_id) > (file.modified_at, file.file_id)
          )
        """
    ).fetchall()
    con.execute(
        """
        update problem set closed = true
        where not closed and rule = 'mostly_bad'
          and not exists (
            select 1 from problem as row_problem
            where row_problem.file_id = problem.file_id and row_problem.severity = 'error' and not row_problem.closed
          )
        """
    ).fetchall()


def close_named(con: Connection, courses: frozenset[str]) -> None:
    """Close what was said of names that nobody had, once a player is in the group, or academy.toml knows the course."""
    con.execute(
        """
        update problem set closed = true
        where not closed and rule in ('group_of_nobody', 'course_unknown') and (
          (rule = 'group_of_nobody' and value in (select group_name from player_group))
          or (rule = 'course_unknown' and list_contains(?, value))
        )
        """,
        [sorted(courses)],
    ).fetchall()


def warn_of_shrunk_parts(con: Connection, shrunk: pl.DataFrame, allowed: str, hint: str) -> None:
    """Warn at files that replaced more rows of a session, say, than they brought.

    Parameters
    ----------
    con : duckdb connection
        In a transaction.
    shrunk : polars.DataFrame
        From :func:`warehouse.files.load_rows`.
    allowed, hint : str
    """
    if shrunk.is_empty():
        return
    told = pl.format("{}: {} rows in place of {}", "part", "n_brought", "n_replaced")
    texts = {
        "column": "",
        "rule": "fewer_rows_than_before",
        "allowed": allowed,
        "hint": hint,
        "severity": "warning",
        "row_key": "",
    }
    insert_frame(
        con,
        "problem",
        shrunk.select(
            "file_id",
            told.str.slice(0, 200).alias("value"),
            *(pl.lit(text).alias(name) for name, text in texts.items()),
            pl.lit(value=False).alias("closed"),
        ),
    )
    with registered(con, "doubted", shrunk.group_by("file_id").len("n")):
        con.execute(
            "update file set n_warnings = n_warnings + doubted.n from doubted where file.file_id = doubted.file_id"
        ).fetchall()


def told_together(con: Connection, file_id: str) -> pl.DataFrame:
    """A file's open problems and warnings as pages may show them: one row for each rule and column, with the first line."""
    return frame(
        con,
        """
        select severity, rule, "column", min(line) as line, count(*) as n, arg_min(value, coalesce(line, 0)) as value,
          min(allowed) as allowed, min(hint) as hint
        from mart_problem
        where file_id = ? and not closed
        group by severity, rule, "column"
        order by list_position(['held', 'error', 'emptied', 'warning'], severity), line nulls first, rule, "column"
        """,
        [file_id],
    )
