"""Every file of a workspace that may name somebody who was erased: cleaned, renamed, or removed; all of it can be repeated."""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.stages.cleaning import cleaned
from pipelines.stages.desk_view import TRAYS
from pipelines.stages.intake import disk
from reports.shelf import list_of
from warehouse.timetable_store import forget_rows

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.stages.forgotten import Forgotten
    from pipelines.workspace import Workspace

SET_ASIDE = ".names-erased.part"
_LEFT_ALONE = (".part", ".tmp", ".crdownload", ".partial", ".swp", "~")


@dataclass(frozen=True)
class CleanedFiles:
    """What was done to files.

    Attributes
    ----------
    moved : dict
        Where a kept copy lay, to where it lies now, both below the workspace.
    texts_changed : bool
        A mapping, or the list of names, that files were read through lost a name.
    unreached : tuple of Path
        Files that name somebody and cannot be rewritten, below the workspace.
    """

    moved: dict[str, str]
    texts_changed: bool
    unreached: tuple[Path, ...]


def clean_kept_files(workspace: Workspace, places: dict[str, tuple[str, str]], forgotten: Forgotten) -> CleanedFiles:
    """Take those who were erased out of archive, quarantine and mappings.

    Parameters
    ----------
    workspace : Workspace
    places : dict
        Where kept copies lie, to id and name of their file.
    forgotten : Forgotten
    """
    done = [_cleaned_file(workspace, path, places, forgotten) for path in _kept_files(workspace)]
    moved = {file.place: file.target for file in done if file.is_changed or file.target != file.place}
    moved |= _moved_before(workspace, places, forgotten)
    return CleanedFiles(
        {before: after for before, after in moved.items() if before in places},
        any(file.is_changed and file.place.endswith(".toml") for file in done),
        tuple(Path(file.place) for file in done if file.is_unreached),
    )


@dataclass(frozen=True)
class _CleanedFile:
    """What was done to one file: where it lay, where it lies now, whether it lost anything, whether it could not be rewritten."""

    place: str
    target: str
    is_changed: bool
    is_unreached: bool


def _kept_files(workspace: Workspace) -> list[Path]:
    trays = (workspace.desk / name for name in TRAYS)
    folders = (workspace.archive, workspace.quarantine, workspace.mappings, *trays)
    return [path for folder in folders for path in disk.files_below(folder)]


def _cleaned_file(workspace: Workspace, path: Path, places: dict[str, tuple[str, str]], forgotten: Forgotten) -> _CleanedFile:
    place = str(path.relative_to(workspace.root))
    found = cleaned(path.name, path.read_bytes(), forgotten)
    target = _place_without(place, places, forgotten, is_changed=found.is_changed)
    if found.is_changed:
        disk.write_whole(workspace.root / target, found.data)
    elif target != place:
        path.rename(workspace.root / target)
    if target != place:
        path.unlink(missing_ok=True)
    return _CleanedFile(place, target, found.is_changed, found.is_unreached)


def _moved_before(workspace: Workspace, places: dict[str, tuple[str, str]], forgotten: Forgotten) -> dict[str, str]:
    """Kept copies that were moved before something ended an erasure, and are not noted yet."""
    found: dict[str, str] = {}
    for kept in places:
        if not (workspace.root / kept).exists():
            targets = (_place_without(kept, places, forgotten, is_changed=is_changed) for is_changed in (True, False))
            found.update((kept, target) for target in targets if (workspace.root / target).exists())
    return found


def _place_without(place: str, places: dict[str, tuple[str, str]], forgotten: Forgotten, *, is_changed: bool) -> str:
    """Where the file lies from now on: a kept copy that lacks something says so by its name, and no name tells of a person."""
    folder, _, name = place.rpartition("/")
    if place in places and is_changed and ".redacted" not in name and folder.startswith("archive"):
        file_id, called = places[place]
        return disk.archive_place(file_id, called, redacted=True)
    return f"{folder}/{forgotten.masked(name, loosely=True)}"


def turn_away(workspace: Workspace, is_known: Callable[[Path, bytes], bool], forgotten: Forgotten) -> int:
    """Take those who were erased out of what waits in the inbox, before anything of it is kept; returns how many lines went.

    Files that were taken in before, byte by byte, are left: they are recognised and discarded. A workbook that names somebody
    cannot be rewritten: it is set aside in the inbox under a name that is not taken in.
    """
    n_lines = 0
    for path in disk.files_below(workspace.inbox):
        if path.name.startswith(".") or path.name.endswith(_LEFT_ALONE):
            continue
        data, stamp = path.read_bytes(), path.stat()
        found = cleaned(path.name, data, forgotten)
        target = path.with_name(forgotten.masked(path.name, loosely=True))
        if (not found.is_changed and not found.is_unreached and target == path) or is_known(path, data):
            continue
        if found.is_unreached:
            target = target.with_name(f"{target.name}{SET_ASIDE}")
        disk.write_whole(target, found.data)
        os.utime(target, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
        if target != path:
            path.unlink()
        n_lines += found.n_lines
    return n_lines


def remove_pages(site: Path, links: Path, forgotten: Forgotten) -> None:
    """Remove pages that name somebody; the next night writes those that are still needed anew."""
    for path in sorted(site.rglob("*")):
        if path.is_file() and path.suffix == ".html":
            text = path.read_text(encoding="utf-8", errors="replace")
            if (forgotten.may_be_in(text) and forgotten.spans(text)) or forgotten.spans(path.name):
                path.unlink()
    for path in (links, list_of(site), list_of(site).with_suffix(".part")):
        path.unlink(missing_ok=True)


def _names_somebody(text: str, forgotten: Forgotten) -> bool:
    """Whether a name stands in the text, also joined to other words as in names of files."""
    return forgotten.may_be_in(text) and bool(forgotten.spans(text, loosely=True))


def clean_scheduler(workspace: Workspace, forgotten: Forgotten) -> bool:
    """Take rows that name somebody out of the timetable's own store; False when it cannot be reached now."""
    return forget_rows(workspace.root / ".prefect" / "prefect.db", partial(_names_somebody, forgotten=forgotten))


def remove_sheets(workspace: Workspace, forgotten: Forgotten) -> None:
    """Remove the shot sheets of those who were erased."""
    for path in sorted((workspace.root / "sheets").glob("*")):
        if not path.is_file() or path.is_symlink():
            continue
        texts = (path.name, path.read_text(encoding="utf-8", errors="replace"))
        if any(_names_somebody(text, forgotten) for text in texts):
            path.unlink()
