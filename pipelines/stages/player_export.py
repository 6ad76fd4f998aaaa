"""Everything about one player, to take along: a page to read, a CSV file per table, all of it as JSON, and what the columns mean.

What other people wrote about somebody else and in which the player is named is counted, not copied; names of others are taken out
of names of files and of what was written beside the player's own rows.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.audit_log import note
from pipelines.stages.forgotten import marks_of
from pipelines.stages.person_files import desk_rows, mentions, original_lines, seen_lines
from pipelines.workspace import require_beside
from reports.player_record import record_page
from reports.single_page import single_page
from schemas.core import core_tables
from schemas.errors import WorkspaceError
from schemas.person_record import GROUP_PLAN, MENTION, ORIGINAL_LINE, RECEIPT, REFUSAL, TABLES
from schemas.spreadsheet import csv_of
from warehouse.connection import open_warehouse
from warehouse.night import stored_night
from warehouse.person_record import group_plans, receipts, refusals
from warehouse.persons import known_people, lines_of_player, require_player, rows_of_player

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime
    from pathlib import Path

    import duckdb

    from pipelines.stages.forgotten import Forgotten
    from pipelines.workspace import Workspace
    from schemas.tables import Table

ANOTHER = "[another person]"
_WRITTEN = ("file", "text")
"""Columns with what people wrote, though they name a row."""
_OF_FILES = ("file", "kept_as")


@dataclass(frozen=True)
class PlayerExport:
    """What was written.

    Attributes
    ----------
    folder : Path
    n_tables, n_rows : int
    n_mentions : int
        Places that name the player and that a person has to look at.
    """

    folder: Path
    n_tables: int
    n_rows: int
    n_mentions: int = 0


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
    return rows.with_columns(pl.col(name).cast(pl.List(pl.String)).list.join(" | ") for name in lists)


def export_player(workspace: Workspace, player_id: str, folder: Path, now: datetime) -> PlayerExport:
    """Write everything about a player into a new folder.

    Raises
    ------
    NotFoundError
        When there is no such player.
    WorkspaceError
        When the folder holds something already, or cannot be written.
    """
    require_beside(workspace, folder)
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        require_player(con, player_id)
        alias = known_people(con)[player_id]
        found = _everything(workspace, con, player_id, alias)
        pages = _pages(workspace, con, player_id, alias, found, now)
    try:
        _write(folder, found, pages)
    except OSError as fault:
        raise WorkspaceError(f"{folder} cannot be written: {fault.strerror}.", "Choose another folder.") from fault
    n_mentions = found[MENTION.name].height if MENTION.name in found else 0
    exported = PlayerExport(folder, len(found), sum(rows.height for rows in found.values()), n_mentions)
    note(workspace, now, "player export", tables=exported.n_tables, rows=exported.n_rows)
    return exported


def _everything(workspace: Workspace, con: duckdb.DuckDBPyConnection, player_id: str, alias: str) -> dict[str, pl.DataFrame]:
    """Every table with a row about the player."""
    people = known_people(con)
    strangers = [name for other, called in people.items() if other != player_id and called for name in (other, called)]
    others, own = marks_of(strangers, [player_id, alias]), marks_of([player_id, alias], strangers)
    seen = seen_lines(workspace, con, player_id)
    received = receipts(con, player_id, seen)
    found = rows_of_player(con, player_id) | {
        RECEIPT.name: received.select(RECEIPT.names),
        REFUSAL.name: refusals(con, player_id, seen),
        ORIGINAL_LINE.name: original_lines(workspace, con, player_id, received, lines_of_player(con, player_id, seen)),
        GROUP_PLAN.name: group_plans(con, player_id),
        **desk_rows(workspace, player_id),
    }
    tables = _tables(found)
    kept = {name: _without_others(rows, tables[name], others) for name, rows in found.items() if not rows.is_empty()}
    named = mentions(workspace, con, found, own, others)
    return kept | ({MENTION.name: named} if named.height else {})


def _without_others(rows: pl.DataFrame, table: Table, others: Forgotten) -> pl.DataFrame:
    """The rows without names of other people in what somebody wrote."""
    free = (column.name for column in table.columns if column.kind == "text" and column.name not in table.grain)
    for name in sorted({name for name in free if not name.endswith("_id")} | (set(_WRITTEN) & set(table.names))):
        texts = [text for text in rows[name].drop_nulls().unique().to_list() if others.may_be_in(text)]
        masks = {text: others.masked(text, loosely=name in _OF_FILES, instead=ANOTHER) for text in texts}
        rows = rows.with_columns(pl.col(name).replace(masks))
    return rows


def _tables(found: dict[str, pl.DataFrame]) -> dict[str, Table]:
    known = core_tables() | {table.name: table for table in TABLES}
    return {name: known[name] for name in found}


def _pages(
    workspace: Workspace,
    con: duckdb.DuckDBPyConnection,
    player_id: str,
    alias: str,
    found: dict[str, pl.DataFrame],
    now: datetime,
) -> dict[str, str]:
    academy, night = workspace.academy(), stored_night(con)
    shown = [(table, found[name]) for name, table in _tables(found).items()]
    pages = {"index.html": record_page(academy, alias or player_id, shown, now, with_own_page=night is not None)}
    if night is not None:
        pages["own-page.html"] = single_page(
            con, academy, audience="player", path="index.html", as_of=night[1], player_id=player_id
        )
    return pages


def _write(folder: Path, found: dict[str, pl.DataFrame], pages: dict[str, str]) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise WorkspaceError(f"{folder} is not empty.", "Choose a new folder.")
    part = folder.resolve().with_name(f".{folder.resolve().name}.part")
    shutil.rmtree(part, ignore_errors=True)
    try:
        part.mkdir(parents=True)
        _write_files(part, found, pages)
        if folder.exists():
            folder.rmdir()
        part.rename(folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _write_files(folder: Path, found: dict[str, pl.DataFrame], pages: dict[str, str]) -> None:
    for name, rows in found.items():
        (folder / f"{name}.csv").write_text(csv_of(flat(rows)), encoding="utf-8")
    everything = {name: rows.to_dicts() for name, rows in found.items()}
    (folder / "player.json").write_text(json.dumps(everything, indent=1, default=str, ensure_ascii=False), encoding="utf-8")
    (folder / "dictionary.csv").write_text(csv_of(dictionary_frame(_tables(found).values())), encoding="utf-8")
    for name, text in pages.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
