"""Where the rows of a person came from, and what was refused of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from warehouse.connection import frame, registered
from warehouse.persons import told_lines

if TYPE_CHECKING:
    import duckdb

    Connection = duckdb.DuckDBPyConnection


def receipts(con: Connection, player_id: str, seen: pl.DataFrame) -> pl.DataFrame:
    """Files with rows of the person, the oldest first: columns of ``schemas.person_record.RECEIPT``, and ``file_id``.

    Parameters
    ----------
    con : duckdb connection
    player_id : str
    seen : polars.DataFrame
        ``file_id``, ``line``: rows of the person that were found in the kept copies.
    """
    named = pl.concat([told_lines(con, player_id, seen), seen.select(pl.lit("seen").alias("what"), "file_id", "line")])
    counts = named.group_by("file_id").agg(
        pl.col("line").filter(pl.col("what") == what).n_unique().alias(name)
        for what, name in (("live", "n_rows"), ("replaced", "n_replaced"), ("refused", "n_refused"))
    )
    with registered(con, "counts", counts):
        return frame(
            con,
            """
            select
              name as file, coalesce(kind, '') as kind, received_at, modified_at, status,
              counts.n_rows, n_replaced, n_refused, kept_as, file_id
            from file join counts using (file_id)
            order by received_at, name, file_id
            """,
        )


def refusals(con: Connection, player_id: str, seen: pl.DataFrame) -> pl.DataFrame:
    """Problems of rows of the person, by file and line: columns of ``schemas.person_record.REFUSAL``."""
    lines = pl.concat([told_lines(con, player_id, seen).select("file_id", "line"), seen.select("file_id", "line")])
    with registered(con, "own_lines", lines.drop_nulls().unique()):
        return frame(
            con,
            """
            select file.name as file, received_at, line, "column", value, rule, allowed, severity
            from problem semi join own_lines using (file_id, line) join file using (file_id)
            order by received_at, file, line, "column", rule
            """,
        )


def group_plans(con: Connection, player_id: str) -> pl.DataFrame:
    """Plans of groups that count for the person, by week: columns of ``schemas.person_record.GROUP_PLAN``."""
    query = """
    select plan.week_starting, plan.group_name, plan.phase, plan.swings_full, plan.swings_speed, plan.minutes
    from player_plan
    join plan using (file_id, line)
    where player_plan.player_id = ? and plan.group_name is not null
    order by plan.week_starting
    """
    return frame(con, query, [player_id])
