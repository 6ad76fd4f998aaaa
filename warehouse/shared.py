"""Reading the files that academies share, with DuckDB: in memory, and with no warehouse open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from schemas.errors import WarehouseError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from schemas.tables import Table

FROM_FILE = "from_file"


def shared_rows(table: Table, files: Sequence[str], store: Any = None) -> pl.DataFrame:
    """The rows of shared files, with the file that each comes from in a last column.

    Parameters
    ----------
    table : Table
        One of :mod:`schemas.shared`.
    files : sequence of str
        Paths, or addresses that the store knows.
    store : fsspec file system, optional
        What reaches them, where they lie on no disk.

    Raises
    ------
    WarehouseError
        When one of them cannot be read, or has other columns.
    """
    schema = table.polars_schema() | {FROM_FILE: pl.String()}
    if not files:
        return pl.DataFrame(schema=schema)
    columns = ", ".join(f'"{name}"' for name in table.names)
    order = ", ".join(f'"{name}"' for name in table.grain)
    try:
        with duckdb.connect(config={"autoinstall_known_extensions": "false"}) as con:
            if store is not None:
                con.register_filesystem(store)
            read = f"select {columns}, {FROM_FILE} from read_parquet($files, filename = '{FROM_FILE}') order by {order}"
            return pl.DataFrame(con.sql(read, params={"files": list(files)}))
    except duckdb.Error as fault:
        raise WarehouseError(
            f"Shared files cannot be read: {str(fault).splitlines()[0]}",
            "Take the file out of the shared folder, and ask who wrote it.",
        ) from fault
