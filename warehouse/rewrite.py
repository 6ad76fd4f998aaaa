"""Writing the warehouse file anew, so that nothing of deleted rows is left in its free space."""

from __future__ import annotations

from typing import TYPE_CHECKING

from warehouse.connection import fresh_files, fresh_place, open_warehouse

if TYPE_CHECKING:
    from pathlib import Path


def rewrite_warehouse(path: Path) -> None:
    """Copy all tables into a new file and put it in the place of the old one. Views are laid anew at the next opening.

    Raises
    ------
    WarehouseError
        When the disk is full, also as the new file is closed: the old one stands, and nothing is left beside it.
    """
    _clear(path)
    try:
        _copy_beside(path)
        fresh_place(path).replace(path)
    except BaseException:
        _clear(path)
        raise
    path.with_name(path.name + ".wal").unlink(missing_ok=True)
    with open_warehouse(path):
        pass


def _copy_beside(path: Path) -> None:
    quoted = str(fresh_place(path)).replace("'", "''")
    with open_warehouse(path) as con:
        con.execute("delete from view_state").fetchall()
        for (view,) in con.execute("select view_name from duckdb_views() where not internal").fetchall():
            con.execute(f'drop view if exists "{view}"').fetchall()
        source = con.execute("select current_database()").fetchall()[0][0]
        con.execute(f"attach '{quoted}' as fresh").fetchall()
        con.execute(f'copy from database "{source}" to fresh').fetchall()
        con.execute("detach fresh").fetchall()  # all rows are in the file then, or this says why not


def _clear(path: Path) -> None:
    for one in fresh_files(path):
        one.unlink(missing_ok=True)
