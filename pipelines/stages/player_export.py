"""Everything about one player, to take along: a CSV file per table, all of it as JSON, and what the columns mean."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.audit_log import note
from schemas.core import core_tables
from schemas.errors import WorkspaceError
from schemas.spreadsheet import csv_of
from warehouse.connection import open_warehouse
from warehouse.persons import require_player, rows_of_player

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime
    from pathlib import Path

    from pipelines.workspace import Workspace
    from schemas.tables import Table


@dataclass(frozen=True)
class PlayerExport:
    """What was written.

    Attributes
    ----------
    folder : Path
    n_tables, n_rows : int
    """

    folder: Path
    n_tables: int
    n_rows: int


def dictionary_frame(tables: Iterable[Table]) -> pl.DataFrame:
    """One row for each column of the tables: table, column, kind, unit, meaning."""
    return pl.DataFrame(
        [
            {"table": table.name, "column": column.name, "kind": column.kind, "unit": column.unit, "meaning": column.description}
            for table in tables
            for column in table.columns
        ],
        schema=dict.fromkeys(("table", "column", "kind", "unit", "meaning"), pl.String),
    )


def flat(rows: pl.DataFrame) -> pl.DataFrame:
    """Lists as text, so that the rows fit into CSV."""
    lists = [name for name, kind in rows.schema.items() if isinstance(kind, pl.List)]
    return rows.with_columns(pl.col(name).list.join(" | ") for name in lists)


def export_player(workspace: Workspace, player_id: str, folder: Path, now: datetime) -> PlayerExport:
    """Write everything about a player into a new folder.

    Raises
    ------
    NotFoundError
        When there is no such player.
    WorkspaceError
        When the folder holds something already, or cannot be written.
    """
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        require_player(con, player_id)
        found = rows_of_player(con, player_id)
    try:
        _write(folder, found)
    except OSError as fault:
        raise WorkspaceError(f"{folder} cannot be written: {fault.strerror}.", "Choose another folder.") from fault
    exported = PlayerExport(folder, len(found), sum(rows.height for rows in found.values()))
    note(workspace, now, "player export", tables=exported.n_tables, rows=exported.n_rows)
    return exported


def _write(folder: Path, found: dict[str, pl.DataFrame]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    if any(folder.iterdir()):
        raise WorkspaceError(f"{folder} is not empty.", "Choose a new folder.")
    for name, rows in found.items():
        (folder / f"{name}.csv").write_text(csv_of(flat(rows)), encoding="utf-8")
    everything = {name: rows.to_dicts() for name, rows in found.items()}
    (folder / "player.json").write_text(json.dumps(everything, indent=1, default=str, ensure_ascii=False), encoding="utf-8")
    tables = core_tables()
    (folder / "dictionary.csv").write_text(csv_of(dictionary_frame(tables[name] for name in found)), encoding="utf-8")
