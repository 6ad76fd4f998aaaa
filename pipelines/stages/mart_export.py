"""The marts as files for further analysis: Parquet and CSV, with what the columns mean."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipelines.stages.intake.disk import write_whole
from pipelines.stages.player_export import dictionary_frame, flat
from pipelines.workspace import require_beside
from schemas.errors import WorkspaceError
from schemas.marts import marts
from schemas.spreadsheet import csv_of
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb
    import polars as pl

    from pipelines.workspace import Workspace
    from schemas.academy import Access
    from schemas.tables import Table


@dataclass(frozen=True)
class MartExport:
    """What was written.

    Attributes
    ----------
    folder : Path
    n_marts, n_rows : int
    """

    folder: Path
    n_marts: int
    n_rows: int


def export_marts(workspace: Workspace, folder: Path, readers: tuple[str, ...]) -> MartExport:
    """Write every mart that one of these readers may read, as ``NAME.parquet`` and ``NAME.csv``, and ``dictionary.csv``.

    Files of an earlier export in the folder are replaced; nothing else in it is touched.

    Raises
    ------
    WorkspaceError
        When the folder cannot be written.
    """
    require_beside(workspace, folder)
    withheld = _withheld(workspace.academy().access) if readers == ("coach",) else ()
    wanted = [mart for name, mart in sorted(marts().items()) if set(readers) & set(mart.readers) and name not in withheld]
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        found = {mart.name: _rows(con, mart) for mart in wanted}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, rows in found.items():
            write_whole(folder / f"{name}.parquet", _parquet(rows))
            write_whole(folder / f"{name}.csv", csv_of(flat(rows)).encode())
        write_whole(folder / "dictionary.csv", csv_of(dictionary_frame(wanted)).encode())
    except OSError as fault:
        raise WorkspaceError(f"{folder} cannot be written: {fault.strerror}.", "Choose another folder.") from fault
    return MartExport(folder, len(found), sum(rows.height for rows in found.values()))


def _parquet(rows: pl.DataFrame) -> bytes:
    out = io.BytesIO()
    rows.write_parquet(out)
    return out.getvalue()


def _withheld(access: Access) -> tuple[str, ...]:
    """Marts that this academy does not show to a coach."""
    load = ("mart_load_day", "mart_load_week", "mart_load_club_week", "mart_load_now", "mart_coach_youth_note")
    availability = ("mart_coach_availability",)
    return (*(() if access.coach_sees_load else load), *(() if access.coach_sees_availability else availability))


def _rows(con: duckdb.DuckDBPyConnection, mart: Table) -> pl.DataFrame:
    columns = ", ".join(f'"{name}"' for name in mart.names)
    order = ", ".join(f'"{name}"' for name in mart.grain) or "all"
    return frame(con, f'select {columns} from "{mart.name}" order by {order}')
