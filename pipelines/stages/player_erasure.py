"""Forgetting a player: rows, what was derived from them, and every place in which files name them.

What happens to the originals: a kept original loses the lines about the player (text keeps its line numbers, other formats
are written anew as CSV); a held file that names the player is removed whole, with its lists; names in lines of others, in heading
lines, in lists, in names of files, in mappings and in the timetable's store are taken out; pages that name them are removed.
A file's checksum stays in the ledger, so that the same bytes dropped again are not taken in again. The warehouse file is written
anew, so that nothing is left in its free space.

Keyed marks stay in ``.forgotten.json``, in no backup: by them a restored backup is cleaned at the next start, and rows that are
dropped again are turned away without a name being known. Backups themselves are not touched: they are counted and named, with
whatever else cannot be reached.

A marker is written first and taken away last: whatever ends an erasure in between, the next start of a run, or the same command
again, goes on where it stood.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.audit_log import note
from pipelines.stages.desk_view import forget_at_desk
from pipelines.stages.erasure_files import clean_kept_files, clean_scheduler, remove_pages, remove_sheets, turn_away
from pipelines.stages.forgotten import Forgotten, folded_words, forget, read_forgotten, spellings
from pipelines.stages.intake.discover import one_file
from pipelines.stages.intake.disk import write_durably, write_whole
from pipelines.stages.intake.lists import list_places, write_problems
from pipelines.stages.intake.originals import keep_list
from pipelines.stages.intake.reading import Readings, delivery_id
from pipelines.stages.intake.redact import redact_kept
from pipelines.stages.person_files import seen_lines
from pipelines.stages.publish import published
from pipelines.workspace import writing
from schemas.files import KINDS
from warehouse.connection import open_warehouse, transaction
from warehouse.files import known_files
from warehouse.night import forget_night
from warehouse.persons import (
    clear_derived,
    empty_held_file,
    erase_rows,
    files_naming,
    ids_of_player,
    keep_under,
    known_people,
    ledger_places,
    lines_of_player,
    n_rows_of,
    note_cleaned,
    note_read_otherwise,
    replace_texts,
    require_player,
    texts_of,
)
from warehouse.rewrite import rewrite_warehouse

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
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
        Files that name the player and cannot be rewritten, below the workspace.
    backups : tuple of Path
        Backups, which still hold the player.
    scheduler_reached : bool
        Whether the timetable's own store could be cleaned.
    published : tuple of str
        Folders to which pages were published, which still hold the player until that is done again.
    """

    n_rows: int
    n_files: int
    naming_still: tuple[Path, ...]
    backups: tuple[Path, ...]
    scheduler_reached: bool = True
    published: tuple[str, ...] = ()


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
    """Go on with an erasure that was ended before it was whole, and erase again whoever came back with a restored backup.

    Returns None when there was nothing to do. The workspace is held for writing.
    """
    begun = _read_marker(workspace)
    done = None if begun is None else _finish(workspace, begun, now)
    for player_id in _returned(workspace):
        done = _finish(workspace, _begin(workspace, player_id, is_listed=False), now)
    return done


def _returned(workspace: Workspace) -> tuple[str, ...]:
    forgotten = read_forgotten(workspace.root)
    if forgotten is None or not workspace.warehouse.exists():
        return ()
    with open_warehouse(workspace.warehouse) as con:
        return forgotten.people_in(known_people(con))


def turn_away_erased(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> int:
    """Take people who were erased out of what waits in the inbox; returns how many lines went. Call it before an intake."""
    forgotten = read_forgotten(workspace.root)
    if forgotten is None:
        return 0
    return turn_away(workspace, _is_known(workspace, con), forgotten.sparing(_names_of_others(con, "")))


def _is_known(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> Callable[[Path, bytes], bool]:
    readings = Readings.of(workspace.mappings, workspace.academy())

    def is_known(path: Path, data: bytes) -> bool:
        below = path.relative_to(workspace.inbox).parts
        file_id = delivery_id(one_file(path, below[0] if len(below) > 1 else ""), data, readings)
        return any(earlier.stands and earlier.status != "held" for earlier in known_files(con, [file_id]).values())

    return is_known


def _names_of_others(con: duckdb.DuckDBPyConnection, player_id: str) -> list[str]:
    people = known_people(con)
    return [name for other, alias in people.items() if alias and other != player_id for name in (other, alias)]


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
    ids : list of str
        Ids of the player's sessions, trials and flags.
    aliases : list of str
        Names by which nobody else is called.
    """

    player_id: str
    n_rows: int
    files: list[dict[str, str]]
    lines: dict[str, list[int]]
    ids: list[str]
    aliases: list[str]


def _read_marker(workspace: Workspace) -> _Begun | None:
    if not workspace.erasure_due.exists():
        return None
    return _Begun(**json.loads(workspace.erasure_due.read_bytes()))


def _begin(workspace: Workspace, player_id: str, *, is_listed: bool = True) -> _Begun:
    with open_warehouse(workspace.warehouse) as con:
        if is_listed:
            require_player(con, player_id)
        alias, others = known_people(con).get(player_id, ""), _names_of_others(con, player_id)
        seen = seen_lines(workspace, con, player_id)
        begun = _Begun(
            player_id,
            n_rows_of(con, player_id),
            files_naming(con, player_id, seen).to_dicts(),
            lines_of_player(con, player_id, seen),
            list(ids_of_player(con, player_id)),
            _spelled(alias, others),
        )
    write_durably(workspace.erasure_due, json.dumps(asdict(begun)).encode())
    return begun


def _spelled(alias: str, others: Collection[str]) -> list[str]:
    """The name and its other spellings, without what somebody else is called."""
    taken = {folded_words(name) for name in others}
    if not alias or folded_words(alias) in taken:
        return []
    return [alias, *sorted(spellings(alias) - taken)]


def _finish(workspace: Workspace, begun: _Begun, now: datetime) -> Erasure:
    """Every step may be done again: what is gone already stays gone."""
    player_id, readings = begun.player_id, Readings.of(workspace.mappings, workspace.academy())
    forget(workspace.root, player_id, begun.ids, begun.aliases, now)
    places = {file["file_id"]: _without_player(workspace, file, player_id, begun.lines, readings) for file in begun.files}
    with open_warehouse(workspace.warehouse) as con:
        with transaction(con):
            erase_rows(con, player_id, _as_rows(begun.lines))
            _note_files(con, begun.files, places)
            clear_derived(con)
            forget_night(con)
        forgotten = (read_forgotten(workspace.root) or Forgotten(b"")).sparing(_names_of_others(con, player_id))
        with transaction(con):
            _mask_texts(con, forgotten)
        _clean_lists(workspace, con, begun.files)
        unreached = _clean_files(workspace, con, forgotten)
        turn_away(workspace, _is_known(workspace, con), forgotten)
    rewrite_warehouse(workspace.warehouse)
    with open_warehouse(workspace.warehouse) as con:
        keep_list(workspace.root, con)
    forget_at_desk(workspace, player_id)
    remove_sheets(workspace, forgotten)
    workspace.rewrite_due.touch()  # what is derived is replaced by the next night, and leaves its old rows in free space
    remove_pages(workspace.site, workspace.root / "player-links.csv", forgotten)
    reached = clean_scheduler(workspace, forgotten)
    backups = tuple(sorted(workspace.backups.iterdir()))
    erasure = Erasure(begun.n_rows, len(begun.files), unreached, backups, reached, tuple(sorted(published(workspace))))
    note(workspace, now, "player erase", rows=erasure.n_rows, files=erasure.n_files, backups=len(erasure.backups))
    workspace.erasure_due.unlink()
    return erasure


def _as_rows(lines: dict[str, list[int]]) -> pl.DataFrame:
    rows = [(file_id, line) for file_id, found in lines.items() for line in found]
    return pl.DataFrame(rows, schema={"file_id": pl.String, "line": pl.Int64}, orient="row")


def _mask_texts(con: duckdb.DuckDBPyConnection, forgotten: Forgotten) -> None:
    """Take names out of what others wrote, and out of names of files."""
    for table, column, texts in texts_of(con):
        is_path = (table, column) == ("file", "name")
        changed = {text: forgotten.masked(text, loosely=is_path) for text in texts if forgotten.may_be_in(text)}
        replace_texts(con, table, column, {before: after for before, after in changed.items() if before != after})


def _clean_files(workspace: Workspace, con: duckdb.DuckDBPyConnection, forgotten: Forgotten) -> tuple[Path, ...]:
    """Clean every kept file; a crash before the ledger knows of a file's new place leaves it to be found by the next start."""
    places = ledger_places(con)
    found = clean_kept_files(workspace, places, forgotten)
    with transaction(con):
        for before, after in found.moved.items():
            note_cleaned(con, places[before][0], after)
        if found.texts_changed:
            note_read_otherwise(con)
    return found.unreached


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
    if not kind.is_named_by_flag:
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


def _note_files(con: duckdb.DuckDBPyConnection, ledger: list[dict[str, str]], places: dict[str, str]) -> None:
    for file in ledger:
        keep_under(con, file["file_id"], file["name"], places[file["file_id"]])
        if file["status"] == "held":
            empty_held_file(con, file["file_id"])


def _clean_lists(workspace: Workspace, con: duckdb.DuckDBPyConnection, ledger: list[dict[str, str]]) -> None:
    """Lists of problems are written as the warehouse has them now; those of a held file that is gone go with it."""
    for file in ledger:
        if file["status"] == "held":
            for path in sorted(workspace.quarantine.glob(f"*.{file['file_id'][:8]}.*.csv")):
                path.unlink()
            continue
        place, _ = list_places(file["file_id"], file["name"], file["kind"])
        if (workspace.root / place).exists():
            write_problems(con, workspace.root / place, file)
