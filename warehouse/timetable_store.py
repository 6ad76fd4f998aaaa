"""The timetable's own store, an SQLite file that Prefect keeps: taking rows out of it that name somebody who was erased."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

_TABLES = ("artifact", "artifact_collection", "log", "events", "flow_run", "task_run")
_PATIENCE_S = 20.0


def forget_rows(path: Path, names_somebody: Callable[[str], bool]) -> bool:
    """Delete every row whose text names somebody, and write the file anew; False when it cannot be reached now."""
    if not path.is_file():
        return True
    try:
        with closing(sqlite3.connect(path, timeout=_PATIENCE_S)) as con:
            con.execute("pragma secure_delete = on")
            there = {name for (name,) in con.execute("select name from sqlite_master")}
            for table in (table for table in _TABLES if table in there):
                _delete_naming(con, table, names_somebody)
            con.commit()
            con.execute("vacuum")
            con.execute("pragma wal_checkpoint(truncate)")
    except sqlite3.Error:
        return False
    return True


def _delete_naming(con: sqlite3.Connection, table: str, names_somebody: Callable[[str], bool]) -> None:
    rows = con.execute(f'select rowid, * from "{table}"').fetchall()
    texts = {row[0]: " ".join(cell for cell in row[1:] if isinstance(cell, str)) for row in rows}
    con.executemany(f'delete from "{table}" where rowid = ?', [(rowid,) for rowid, text in texts.items() if names_somebody(text)])
