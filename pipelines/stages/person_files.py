"""What files and the desk hold about one person: rows as they were dropped, notes, and other places that name them."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.cleaning import cleaned
from pipelines.stages.desk_view import KEYS, SHEETS, has_tables
from pipelines.stages.intake.disk import files_below
from pipelines.stages.intake.reading import Readings
from pipelines.stages.intake.redact import lines_of_players, rows_of_players
from schemas.files import KINDS
from schemas.person_record import DESK_HAND_IN, DESK_LINK, DESK_NOTE, MENTION, ORIGINAL_LINE
from warehouse.persons import kept_files, texts_of

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from pipelines.stages.forgotten import Forgotten
    from pipelines.workspace import Workspace
    from schemas.tables import Table


def seen_lines(workspace: Workspace, con: duckdb.DuckDBPyConnection, player_id: str) -> pl.DataFrame:
    """``file_id``, ``line``: rows about the player in kept copies; those that were refused for their key are in no table."""
    readings = _readings(workspace)
    seen = [
        (file["file_id"], line)
        for file in kept_files(con).to_dicts()
        if file["kind"] in KINDS
        for line in lines_of_players(workspace.root, KINDS[file["kind"]], file, {player_id}, readings)
    ]
    return pl.DataFrame(seen, schema={"file_id": pl.String, "line": pl.Int64}, orient="row")


_OF_FILES = frozenset({"file", "problem", "superseded_row"})
"""The ledger: receipts and refusals tell of it."""


def _readings(workspace: Workspace) -> Readings:
    return Readings.of(workspace.mappings, workspace.academy())


def original_lines(
    workspace: Workspace, con: duckdb.DuckDBPyConnection, player_id: str, received: pl.DataFrame, named: dict[str, list[int]]
) -> pl.DataFrame:
    """Rows of the person as they stand in kept originals: columns of ``ORIGINAL_LINE``.

    Parameters
    ----------
    workspace : Workspace
    con : duckdb connection
    player_id : str
    received : polars.DataFrame
        From :func:`warehouse.person_record.receipts`.
    named : dict
        File to lines that belong to the person by a flag only, as those of decisions do.
    """
    when = dict(received.select("file_id", "received_at").iter_rows())
    readings = _readings(workspace)
    rows = []
    for file in kept_files(con).filter(pl.col("file_id").is_in(list(when))).to_dicts():
        if file["kind"] in KINDS:
            own = rows_of_players(workspace.root, KINDS[file["kind"]], file, {player_id}, readings)
            own += _by_flag(
                workspace.root / file["kept_as"], set(named.get(file["file_id"], ())) - {line for line, *_ in own}, file
            )
            rows += [(file["name"], when[file["file_id"]], *row) for row in sorted(own)]
    return pl.DataFrame(rows, schema=ORIGINAL_LINE.polars_schema(), orient="row").sort("received_at", "file", "line")


def _by_flag(place: Path, lines: set[int], file: dict[str, str]) -> list[tuple[int, str, str]]:
    """Rows of a text file that name the person through a flag only."""
    if not KINDS[file["kind"]].is_named_by_flag or place.suffix not in {".csv", ".jsonl"} or not place.is_file():
        return []
    text = place.read_text(encoding="utf-8", errors="replace").split("\n")
    return [(line, text[line - 1], text[0] if place.suffix == ".csv" else "") for line in sorted(lines) if text[line - 1].strip()]


def desk_rows(workspace: Workspace, player_id: str) -> dict[str, pl.DataFrame]:
    """What the desk keeps about the person, by table."""
    return {
        DESK_HAND_IN.name: _from_keys(workspace, _HANDED_IN, player_id, DESK_HAND_IN),
        DESK_LINK.name: _from_keys(workspace, _LINKS, player_id, DESK_LINK),
        DESK_NOTE.name: _notes(workspace.desk / SHEETS / player_id),
    }


_HANDED_IN = "select at, role, kind, about, file from hand_in where subject = ? order by at, kind"
_LINKS = "select role, made_at, serial from personal_link where player_id = ? order by role"


def _from_keys(workspace: Workspace, query: str, player_id: str, table: Table) -> pl.DataFrame:
    keys = workspace.desk / KEYS
    rows = []
    if keys.exists():
        with closing(sqlite3.connect(keys, timeout=10)) as con:
            rows = con.execute(query, (player_id,)).fetchall() if has_tables(con) else []
    return pl.DataFrame(rows, schema=table.polars_schema(), orient="row")


def _notes(folder: Path) -> pl.DataFrame:
    rows = [
        (path.stem, line, json.dumps(json.loads(text), ensure_ascii=False))
        for path in sorted(folder.glob("*.jsonl"))
        for line, text in enumerate(path.read_text(encoding="utf-8").split("\n")[:-1], 1)
    ]
    return pl.DataFrame(rows, schema=DESK_NOTE.polars_schema(), orient="row")


def mentions(
    workspace: Workspace, con: duckdb.DuckDBPyConnection, theirs: dict[str, pl.DataFrame], own: Forgotten, others: Forgotten
) -> pl.DataFrame:
    """Places that name the person beside the rows that are theirs: texts of others, files without a kind, files that wait.

    Parameters
    ----------
    workspace : Workspace
    con : duckdb connection
    theirs : dict
        Rows of the person by table.
    own, others : Forgotten
        Marks of the person's names, and of everybody else's.
    """
    rows = []
    for table, column, texts in texts_of(con):
        told = set(theirs[table][column].to_list()) if table in theirs else set()
        n = sum(bool(own.spans(text)) for text in texts if text not in told and own.may_be_in(text))
        if n and table not in _OF_FILES:
            rows.append((f"{table}.{column}", n))
    without_kind = {file["kept_as"] for file in kept_files(con).to_dicts() if file["kind"] not in KINDS}
    for path in files_below(workspace.inbox):
        rows += _naming(path, f"inbox/{path.relative_to(workspace.inbox)}", own, others)
    for place in sorted(without_kind):
        if (workspace.root / place).is_file():
            rows += _naming(workspace.root / place, place, own, others)
    return pl.DataFrame(rows, schema=MENTION.polars_schema(), orient="row")


def _naming(path: Path, place: str, own: Forgotten, others: Forgotten) -> list[tuple[str, int]]:
    found = cleaned(path.name, path.read_bytes(), own)
    n = found.n_lines + found.n_names + found.is_unreached + len(own.spans(path.name, loosely=True))
    return [(others.masked(place, loosely=True, instead="another"), n)] if n else []
