"""Opening the warehouse, and moving frames in and out of it.

One process may write at a time; open late and close early. Frames travel through the Arrow capsule interface, so no
further library is needed.
"""

from __future__ import annotations

import time
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from schemas.errors import NotFoundError, WarehouseBusyError, WarehouseError, WarehouseMemoryError
from warehouse.migrate import migrate, require_current

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date
    from pathlib import Path

_SETTINGS: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "checkpoint_threshold": "128MB",  # a night writes in some hundred transactions: it need not tidy up after every few of them
}

LEAST_MEMORY_BYTES, BYTES_A_SHOT = 10**9, 200
"""Memory that the database may hold: a night of two million shots was through with 150 bytes a shot. By itself it would keep
blocks that were read until four fifths of all memory are full."""

_PAUSE_S = 0.05
_HEAD_BYTES = 3 * 4096
"""A database file of DuckDB begins with three heads of one block each (its storage format, from its documentation)."""


class _ArrowFrame:
    """A frame as DuckDB reads it without a further library: it asks for the stream, anew at each scan."""

    def __init__(self, frame: pl.DataFrame) -> None:
        # A column in which nothing stands, not even a type, is refused by DuckDB: as text it fits wherever null does.
        self._frame = frame.with_columns(pl.col(pl.Null).cast(pl.String)) if pl.Null in frame.dtypes else frame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._frame.__arrow_c_stream__(requested_schema)


def _connect(path: Path, *, read_only: bool, is_bounded: bool) -> duckdb.DuckDBPyConnection:
    if read_only and not path.exists():
        raise NotFoundError(f"There is no warehouse at {path} yet.", "Run `speedworth run` first.")
    if not read_only:
        _clear_beginning(path)
    try:
        con = duckdb.connect(str(path), read_only=read_only, config=_SETTINGS)
    except duckdb.IOException as fault:
        if "lock" in str(fault).lower():
            raise WarehouseBusyError(
                f"Another process holds the warehouse {path}.", "Wait until it has finished, then try again."
            ) from fault
        raise WarehouseError(
            f"The warehouse {path} cannot be opened: {_first_line(fault)}",
            "Look whether disk and folder can be reached and written; where they can, make it anew with `speedworth rebuild`, or "
            "bring back a copy with `speedworth restore BACKUP`.",
        ) from fault
    except duckdb.ConnectionException as fault:
        raise WarehouseBusyError(
            f"The warehouse {path} is open in this process already.", "Close the other connection first."
        ) from fault
    except duckdb.Error as fault:
        raise WarehouseError(
            f"The warehouse {path} cannot be opened: {_first_line(fault)}",
            "Make it anew with `speedworth rebuild`, or bring back a copy.",
        ) from fault
    _shut_in(con, path, _memory_bytes(con) if is_bounded else None)
    return con


def _clear_beginning(path: Path) -> None:
    """Remove what a full disk or a kill left of a first start: less than the heads of a database never held a row."""
    try:
        if 0 < path.stat().st_size < _HEAD_BYTES:
            path.unlink()
    except OSError:
        return  # it is not there, or opening it says what is wrong


def fresh_place(path: Path) -> Path:
    """Where the warehouse is written anew: the only file beside its own that a connection may open."""
    return path.with_suffix(".fresh")


def fresh_files(path: Path) -> tuple[Path, ...]:
    """The warehouse that is written anew, and the logs that DuckDB keeps beside it."""
    fresh = fresh_place(path)
    return tuple(fresh.with_name(fresh.name + ending) for ending in ("", ".wal", ".wal.checkpoint", ".wal.recovery"))


def _shut_in(con: duckdb.DuckDBPyConnection, path: Path, memory_bytes: int | None) -> None:
    """Leave SQL nothing to reach but this warehouse: files are read by Python, and SQL has no business with them."""
    allowed = ", ".join("'" + str(one).replace("'", "''") + "'" for one in fresh_files(path))
    for setting in (
        *([] if memory_bytes is None else [f"memory_limit = '{memory_bytes}B'"]),
        "timezone = 'UTC'",
        "enable_progress_bar = false",  # it would print between what programs read
        f"allowed_paths = [{allowed}]",
        "enable_external_access = false",
        "lock_configuration = true",
    ):
        con.execute(f"set {setting}").fetchall()


def _memory_bytes(con: duckdb.DuckDBPyConnection) -> int:
    """What the database may hold, by the shots that are there; 0 of them in a new one."""
    shots = scalar(con, "select max(estimated_size) from duckdb_tables() where table_name = 'shot'")
    return max(LEAST_MEMORY_BYTES, BYTES_A_SHOT * int(shots or 0))


def _first_line(fault: Exception) -> str:
    return str(fault).splitlines()[0]


def _connect_within(wait_s: float, path: Path, *, read_only: bool, is_bounded: bool) -> duckdb.DuckDBPyConnection:
    until = time.monotonic() + wait_s
    while True:
        try:
            return _connect(path, read_only=read_only, is_bounded=is_bounded)
        except WarehouseBusyError:
            if time.monotonic() >= until:
                raise
        time.sleep(_PAUSE_S)


@contextmanager
def open_warehouse(
    path: Path, *, read_only: bool = False, wait_s: float = 0.0, is_bounded: bool = True
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the warehouse at ``path``, migrated; closed again at the end of the block.

    Parameters
    ----------
    path : Path
    read_only : bool
    wait_s : float
        How long to wait for others that have it open [s].
    is_bounded : bool
        Whether the memory that the database holds is bounded by its shots; else it may take four fifths of the machine's.

    Raises
    ------
    WarehouseBusyError
        When another process holds it.
    WarehouseNewerError, WarehouseCorruptError
        When its migrations do not fit this version.
    WarehouseError
        When the disk is full or a block cannot be read, also within the block.
    WarehouseMemoryError
        When memory does not suffice, also within the block.
    NotFoundError
        When it is opened to read and does not exist.
    """
    con = _connect_within(wait_s, path, read_only=read_only, is_bounded=is_bounded)
    try:
        if read_only:
            require_current(con)
        else:
            migrate(con)
        yield con
    except _OF_THE_MACHINE as fault:
        raise _unusable(path, fault) from fault
    finally:
        _close(con, path)


_OF_THE_MACHINE = (duckdb.IOException, duckdb.TransactionException, duckdb.FatalException, duckdb.OutOfMemoryException)
"""A disk that is full, a block that cannot be read, memory that is not there: no fault of a query."""


def _close(con: duckdb.DuckDBPyConnection, path: Path) -> None:
    try:
        con.close()
    except _OF_THE_MACHINE as fault:
        raise _unusable(path, fault) from fault


def _unusable(path: Path, fault: Exception) -> WarehouseError:
    if isinstance(fault, duckdb.OutOfMemoryException):
        return WarehouseMemoryError(
            f"Memory does not suffice for the warehouse {path}: {_first_line(fault)}.",
            "Close other programs, or use a machine with more memory, then try again; nothing half-done was kept.",
        )
    return WarehouseError(
        f"The warehouse {path} cannot be read or written: {_first_line(fault)}.",
        "Look at the disk and its free space, then try again; nothing half-done was kept.",
    )


@contextmanager
def transaction(con: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """All statements of the block, or none."""
    con.execute("begin")
    try:
        yield
    except BaseException:
        con.execute("rollback")
        raise
    con.execute("commit")


_BATCH_ROWS = 131_072
"""Rows that DuckDB hands over at a time, as it would by itself."""


class _Rows:
    """The rows of a query, as polars asks for them."""

    def __init__(self, con: duckdb.DuckDBPyConnection, sql: str, params: Sequence[Any]) -> None:
        self._con, self._sql, self._params = con, sql, list(params)

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        """The library's relations bind a query to tell their columns, and once more to run it: here it is run at once."""
        try:
            return self._con._submit(self._sql, self._params or None, "stream", _BATCH_ROWS).arrow_capsule()
        except (AttributeError, TypeError):  # another version of the library, of which this is no promise
            relation = self._con.sql(self._sql, params=self._params) if self._params else self._con.sql(self._sql)
            return relation.__arrow_c_stream__(requested_schema)


def frame(con: duckdb.DuckDBPyConnection, sql: str, params: Sequence[Any] = ()) -> pl.DataFrame:
    """The result of a query as a frame. Sort in the query when order matters."""
    return pl.DataFrame(_Rows(con, sql, params))


def scalar(con: duckdb.DuckDBPyConnection, sql: str, params: Sequence[Any] = ()) -> Any:
    """The first value of the first row; None when there is no row."""
    rows = con.execute(sql, list(params)).fetchall()
    return rows[0][0] if rows else None


def insert_frame(con: duckdb.DuckDBPyConnection, table: str, rows: pl.DataFrame) -> int:
    """Append the rows by column name; returns how many. Columns that the frame lacks become null."""
    if rows.is_empty():
        return 0
    con.register("incoming_rows", _ArrowFrame(rows))
    try:
        con.execute(f'insert into "{table}" by name select * from incoming_rows').fetchall()
    finally:
        with suppress(duckdb.Error):  # within a transaction that failed nothing more can be said; its own fault goes up
            con.unregister("incoming_rows")
    return rows.height


@contextmanager
def registered(con: duckdb.DuckDBPyConnection, name: str, rows: pl.DataFrame) -> Iterator[str]:
    """The frame as a view of that name, within the block."""
    con.register(name, _ArrowFrame(rows))
    try:
        yield name
    finally:
        with suppress(duckdb.Error):  # as above
            con.unregister(name)


def replace_table(con: duckdb.DuckDBPyConnection, table: str, rows: pl.DataFrame) -> int:
    """Put the rows in place of all that the table held; call it within a transaction."""
    con.execute(f'delete from "{table}"').fetchall()
    return insert_frame(con, table, rows)


def replace_days(con: duckdb.DuckDBPyConnection, table: str, day: str, since: date | None, rows: pl.DataFrame) -> int:
    """Put the rows in place of those of a day and all after it (None: of all); call it within a transaction."""
    if since is None:
        return replace_table(con, table, rows)
    con.execute(f'delete from "{table}" where "{day}" >= ?', [since]).fetchall()
    return insert_frame(con, table, rows)


def drop_days(con: duckdb.DuckDBPyConnection, table: str, day: str, before: date) -> None:
    """Take out the rows of days before one."""
    con.execute(f'delete from "{table}" where "{day}" < ?', [before]).fetchall()
