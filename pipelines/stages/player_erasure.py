"""Forgetting a player: rows, what was derived from them, and their lines in the originals that are kept.

What happens to the originals: a kept original loses the lines about the player (text keeps its line numbers, other formats
are written anew as CSV); a held file that names the player is removed whole, with its lists; lists in quarantine lose their
lines too. A file's checksum stays in the ledger, so that the same bytes dropped again are not taken in again. The warehouse
file is written anew, so that nothing is left in its free space. Backups are not touched: they are counted and named.

A marker is written first and taken away last: whatever ends an erasure in between, the next start of a run, or the same command
again, goes on where it stood.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.stages.audit_log import note
from pipelines.stages.desk_view import TRAYS, forget_at_desk
from pipelines.stages.intake.disk import write_durably, write_whole
from pipelines.stages.intake.originals import keep_list
from pipelines.stages.intake.reading import Readings
from pipelines.stages.intake.redact import redact_kept
from pipelines.workspace import writing
from schemas.files import KINDS
from warehouse.connection import open_warehouse, transaction
from warehouse.night import forget_night
from warehouse.persons import empty_held_file, erase_rows, files_naming, keep_under, lines_of_player, n_rows_of, require_player
from warehouse.rewrite import rewrite_warehouse

if TYPE_CHECKING:
    from datetime import datetime

    import duckdb

    from pipelines.workspace import Workspace


@dataclass(frozen=True)
class Erasure:
    """What was forgotten, and what is left to do by hand.

    Attributes
    ----------
    n_rows, n_files : int
        Rows taken out; kept files that lost lines or were removed.
    naming_still : tuple of Path
        Files of archive, quarantine, inbox and the desk's trays in which the id still stands as text, below the workspace.
    backups : tuple of Path
        Backups, which still hold the player.
    """

    n_rows: int
    n_files: int
    naming_still: tuple[Path, ...]
    backups: tuple[Path, ...]


def erase_player(workspace: Workspace, player_id: str, now: datetime) -> Erasure:
    """Forget a player; derived tables and pages follow with the next run.

    Raises
    ------
    NotFoundError
        When there is no such player.
    WarehouseBusyError
        When a run is at work.
    """
    with writing(workspace, "an erasure"):
        begun = _read_marker(workspace)
        if begun is not None and begun.player_id != player_id:
            _finish(workspace, begun, now)
            begun = None
        return _finish(workspace, begun or _begin(workspace, player_id), now)


def finish_erasures(workspace: Workspace, now: datetime) -> Erasure | None:
    """Go on with an erasure that was ended before it was whole; None when there is none. The workspace is held for writing."""
    begun = _read_marker(workspace)
    return None if begun is None else _finish(workspace, begun, now)


@dataclass(frozen=True)
class _Begun:
    """What an erasure has to reach, as it stood in the ledger before anything was taken out.

    Attributes
    ----------
    player_id : str
    n_rows : int
    files : list of dict
        Ledger rows of the files that name the player.
    lines : dict
        File to the lines that are about the player.
    """

    player_id: str
    n_rows: int
    files: list[dict[str, str]]
    lines: dict[str, list[int]]


def _read_marker(workspace: Workspace) -> _Begun | None:
    if not workspace.erasure_due.exists():
        return None
    return _Begun(**json.loads(workspace.erasure_due.read_bytes()))


def _begin(workspace: Workspace, player_id: str) -> _Begun:
    with open_warehouse(workspace.warehouse) as con:
        require_player(con, player_id)
        begun = _Begun(
            player_id, n_rows_of(con, player_id), files_naming(con, player_id).to_dicts(), lines_of_player(con, player_id)
        )
    write_durably(workspace.erasure_due, json.dumps(asdict(begun)).encode())
    return begun


def _finish(workspace: Workspace, begun: _Begun, now: datetime) -> Erasure:
    """Every step may be done again: what is gone already stays gone."""
    player_id, readings = begun.player_id, Readings(workspace.mappings, workspace.academy().time_zone)
    places = {file["file_id"]: _without_player(workspace, file, player_id, begun.lines, readings) for file in begun.files}
    with open_warehouse(workspace.warehouse) as con, transaction(con):
        erase_rows(con, player_id)
        _note_files(con, begun.files, places, player_id)
        forget_night(con)
    rewrite_warehouse(workspace.warehouse)
    with open_warehouse(workspace.warehouse) as con:
        keep_list(workspace.root, con)
    _clean_lists(workspace, begun.files, player_id)
    forget_at_desk(workspace, player_id)
    backups = tuple(sorted(workspace.backups.iterdir()))
    erasure = Erasure(begun.n_rows, len(begun.files), _naming_still(workspace, player_id), backups)
    note(workspace, now, "player erase", rows=erasure.n_rows, files=erasure.n_files, backups=len(erasure.backups))
    workspace.erasure_due.unlink()
    return erasure


def _without_player(
    workspace: Workspace, file: dict[str, str], player_id: str, lines: dict[str, list[int]], readings: Readings
) -> str:
    """Take the player out of one kept file; returns where it lies now, empty when it is gone."""
    if not file["kept_as"]:
        return ""
    place = workspace.root / file["kept_as"]
    if file["status"] == "held" or file["kind"] not in KINDS:
        place.unlink(missing_ok=True)
        return ""
    kind = KINDS[file["kind"]]
    if "player_id" in kind.names:
        return redact_kept(workspace.root, kind, file, {player_id}, readings)
    return _without_lines(place, set(lines.get(file["file_id"], ())), file["kept_as"])


def _without_lines(place: Path, drop: set[int], kept_as: str) -> str:
    """Empty these lines of a text file whose rows name the player through a flag; another format is removed whole."""
    if place.suffix not in {".csv", ".jsonl"} or not place.is_file():
        place.unlink(missing_ok=True)
        return ""
    kept = place.read_bytes().split(b"\n")
    write_whole(place, b"\n".join(b"" if at in drop else line for at, line in enumerate(kept, 1)))
    return kept_as


def _note_files(con: duckdb.DuckDBPyConnection, ledger: list[dict[str, str]], places: dict[str, str], player_id: str) -> None:
    for file in ledger:
        file_id, name = file["file_id"], file["name"]
        if player_id in name:
            name = f"erased-{file_id[:8]}{Path(name).suffix}"
        keep_under(con, file_id, name, places[file_id])
        if file["status"] == "held":
            empty_held_file(con, file_id)


def _clean_lists(workspace: Workspace, ledger: list[dict[str, str]], player_id: str) -> None:
    """Lists of problems and of rejected rows lose the lines that name the player, or go with their held file."""
    for file in ledger:
        for path in sorted(workspace.quarantine.glob(f"*.{file['file_id'][:8]}.*.csv")):
            if file["status"] == "held" or player_id in path.name:
                path.unlink()
                continue
            kept = [line for line in path.read_bytes().split(b"\n") if player_id.encode() not in line]
            write_whole(path, b"\n".join(kept))


def _naming_still(workspace: Workspace, player_id: str) -> tuple[Path, ...]:
    wanted = player_id.encode()
    return tuple(
        path.relative_to(workspace.root)
        for folder in (workspace.archive, workspace.quarantine, workspace.inbox, *(workspace.desk / name for name in TRAYS))
        for path in sorted(folder.rglob("*"))
        if path.is_file() and (wanted in path.name.encode() or wanted in path.read_bytes())
    )
