"""What academies shared, read and checked: a file that breaks its contract is left out and named, and holds up no other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from schemas.errors import WarehouseError
from schemas.shared import SHARED
from schemas.shared_contract import broken_rule
from warehouse.shared import FROM_FILE, shared_rows

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pipelines.stages.shared_folder import SharedFolder
    from schemas.tables import Table


@dataclass(frozen=True)
class Refused:
    """A shared file that was left out: path below the folder, and why."""

    path: str
    why: str


@dataclass(frozen=True)
class Gathered:
    """Everything that was shared.

    Attributes
    ----------
    rows : dict
        Kind to rows of its contract.
    refused : tuple of Refused
    n_files : int
    """

    rows: dict[str, pl.DataFrame]
    refused: tuple[Refused, ...]
    n_files: int


def gathered(folder: SharedFolder) -> Gathered:
    """Read the files of all academies, kind by kind.

    Raises
    ------
    WorkspaceError
        When the folder cannot be read.
    """
    parts: dict[str, list[str]] = {kind: [] for kind in SHARED}
    for path in folder.names(""):
        kind = path.rpartition("/")[2].removesuffix(".parquet")
        if path.count("/") == 2 and path.startswith("academy=") and kind in parts and path.endswith(".parquet"):
            parts[kind].append(path)
    refused: list[Refused] = []
    rows = {kind: _rows(folder, SHARED[kind], paths, refused).sort(SHARED[kind].grain) for kind, paths in parts.items()}
    return Gathered(rows, tuple(sorted(refused, key=lambda one: one.path)), sum(map(len, parts.values())))


def _rows(folder: SharedFolder, table: Table, paths: list[str], refused: list[Refused]) -> pl.DataFrame:
    """The rows of files, read at once; where anything is wrong with them, half by half, until it is known with which."""
    rows, why = _checked(folder, table, paths)
    if not why:
        return rows
    if len(paths) == 1:
        refused.append(Refused(paths[0], why))
        return pl.DataFrame(schema=table.polars_schema())
    middle = len(paths) // 2
    return pl.concat([_rows(folder, table, part, refused) for part in (paths[:middle], paths[middle:])])


def _checked(folder: SharedFolder, table: Table, paths: list[str]) -> tuple[pl.DataFrame, str]:
    try:
        found = shared_rows(table, [folder.address_of(path) for path in paths], None if folder.is_local else folder.files)
    except WarehouseError:
        why = f"It cannot be read as Parquet with the columns {', '.join(table.names)}. Ask who wrote it."
        return pl.DataFrame(schema=table.polars_schema()), why
    rows = found.drop(FROM_FILE)
    return rows, broken_rule(table, rows) or _misplaced(found)


def _misplaced(rows: pl.DataFrame) -> str:
    """Why rows do not belong where their file lies."""
    told = pl.format("academy={}/month={}/", "academy", pl.col("month_on").dt.to_string("%Y-%m"))
    wrong = rows.filter(~pl.col(FROM_FILE).str.contains(told, literal=True))
    return "" if wrong.is_empty() else "It speaks of another academy or month than its place says. Ask who moved it."


def silent(names: Iterable[str], rows: dict[str, pl.DataFrame]) -> tuple[str, ...]:
    """Academies of the federation of which nothing was shared, by name."""
    told = {academy for part in rows.values() for academy in part["academy"].unique()}
    return tuple(sorted(set(names) - told))
