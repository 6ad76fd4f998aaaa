"""Reading the whole warehouse through: each block carries a checksum that is met when it is read."""

from __future__ import annotations

import duckdb

from schemas.errors import WarehouseCorruptError


def read_through(con: duckdb.DuckDBPyConnection) -> int:
    """Read every row of every table; returns how many tables there are.

    Raises
    ------
    WarehouseCorruptError
        When a block cannot be read.
    """
    tables = [name for (name,) in con.execute("select table_name from duckdb_tables() order by table_name").fetchall()]
    try:
        for table in tables:
            con.execute(f'select sum(cast(hash(t) as hugeint)) from "{table}" as t').fetchall()
    except duckdb.Error as fault:
        raise WarehouseCorruptError(
            f"A block of the warehouse cannot be read: {str(fault).splitlines()[0]}",
            "Make it anew with `speedworth rebuild`, or bring back a backup.",
        ) from fault
    return len(tables)
