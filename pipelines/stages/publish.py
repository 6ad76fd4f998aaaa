"""Copies of the pages for a place from which others read them: one audience a folder, and nothing that tells whose link is whose.

A folder is exchanged whole, so that a reader never meets half of it and a page that is gone is gone. What was put where is noted
in the workspace, never beside the pages: by it a folder is known again, and one that holds anything else is left alone.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipelines.stages.audit_log import note
from pipelines.stages.intake.disk import write_durably
from reports.player_work import FOLDER
from reports.shelf import put_in_place, written_files
from reports.words import words
from schemas.errors import NotFoundError, RenderError, WorkspaceError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from pipelines.workspace import Workspace
    from warehouse.marts import Audience

_OWN = 0o700
_FRONT = "index.html"
_ROOM = f"{FOLDER['player']}/"


@dataclass(frozen=True)
class Published:
    """One audience's pages in their place.

    Attributes
    ----------
    audience : {"coach", "physio", "data", "player"}
    folder : Path
    n_files, n_new, n_gone : int
        Files there now; those of them that are new or changed; those that were there before and are not now.
    """

    audience: Audience
    folder: Path
    n_files: int
    n_new: int
    n_gone: int


def all_rooms(folder: Path) -> dict[Audience, Path]:
    """Where each audience's pages go when all are published below one folder.

    Raises
    ------
    WorkspaceError
        When that is the uppermost folder of a disk, which nobody means.
    """
    if folder.resolve() == Path(folder.resolve().anchor):
        raise WorkspaceError(f"{folder} is the uppermost folder of the disk; nothing was published.", "Name a folder below it.")
    return {audience: folder / name for audience, name in FOLDER.items()}


def publish(workspace: Workspace, rooms: Mapping[Audience, Path], now: datetime) -> tuple[Published, ...]:
    """Copy the pages of audiences into folders of their own. The workspace is held for writing.

    A folder that is there keeps its mode and group, and its files get them: so others are let in. A new one is its owner's only.

    Parameters
    ----------
    workspace : Workspace
    rooms : mapping
        Audience to folder; the folder is new, empty, or holds what was published there before.
    now : datetime

    Raises
    ------
    NotFoundError
        When there are no pages yet.
    RenderError
        When pages were changed since they were written.
    WorkspaceError
        When a folder lies in the workspace, holds something else, or cannot be written; then nothing was written anywhere.
    """
    places = {audience: folder.resolve() for audience, folder in rooms.items()}
    pages = {audience: _pages(workspace, audience) for audience in places}
    before = {audience: _own_files(workspace, place) for audience, place in places.items()}
    for audience, place in places.items():
        _refuse_place(workspace, place, set(before[audience]))
        _refuse_other_audience(workspace, place, audience)
    return tuple(_put(workspace, audience, place, pages[audience], before[audience], now) for audience, place in places.items())


def _pages(workspace: Workspace, audience: Audience) -> dict[str, bytes]:
    """Path to content of everything that this audience reads, as it was written."""
    room = f"{FOLDER[audience]}/"
    told = {path: digest for path, digest in written_files(workspace.site).items() if path.startswith(room)}
    if not told:
        raise NotFoundError("There are no pages yet.", "Run `speedworth run` first.")
    found = {}
    for path, digest in sorted(told.items()):
        place = workspace.site / path
        data = place.read_bytes() if place.is_file() and not place.is_symlink() else b""
        if hashlib.sha256(data).hexdigest() != digest:
            raise RenderError(f"site/{path} is not as it was written; nothing was published.", "Run `speedworth run` first.")
        found[path.removeprefix(room)] = data
    return found | ({_FRONT: _front(workspace).encode()} if room == _ROOM else {})


def _front(workspace: Workspace) -> str:
    """What whoever opens the folder of all players sees, in place of a list of them."""
    spoken = words(workspace.academy().language)
    title, lead = (escape(spoken(f"published.{name}")) for name in ("title", "lead"))
    head = f'<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{title}</title>'
    return f'<!doctype html>\n<html lang="{spoken.language}">{head}<h1>{title}</h1><p>{lead}</p></html>\n'


def published(workspace: Workspace) -> dict[str, dict[str, Any]]:
    """Folder to what was put there: audience, when, and path to checksum."""
    if not workspace.published.is_file():
        return {}
    told: dict[str, dict[str, Any]] = json.loads(workspace.published.read_bytes())
    return told


def _own_files(workspace: Workspace, place: Path) -> dict[str, str]:
    return dict(published(workspace).get(str(place), {}).get("files", {}))


def _note(workspace: Workspace, place: Path, audience: Audience, now: datetime, files: dict[str, str]) -> None:
    told = published(workspace) | {str(place): {"audience": audience, "at": f"{now:%Y-%m-%dT%H:%M:%SZ}", "files": files}}
    write_durably(workspace.published, json.dumps(told, sort_keys=True).encode())


def _refuse_place(workspace: Workspace, place: Path, own: set[str]) -> None:
    root = workspace.root.resolve()
    if place == root or root in place.parents or place in root.parents:
        raise WorkspaceError(f"{place} and the workspace lie in each other; nothing was published.", "Choose another folder.")
    if place.exists() and not place.is_dir():
        raise WorkspaceError(f"{place} is not a folder; nothing was published.", "Choose another one.")
    if not place.exists():
        return
    foreign = sorted(str(path.relative_to(place)) for path in _leaves(place) if str(path.relative_to(place)) not in own)
    if foreign:
        raise WorkspaceError(
            f"{place} holds {foreign[0]}, which was not published there; nothing was published.",
            "Choose an empty folder, or take away what it holds.",
        )


def _refuse_other_audience(workspace: Workspace, place: Path, audience: Audience) -> None:
    """Whoever reads a folder now would read what is meant for others."""
    there = published(workspace).get(str(place), {}).get("audience", audience)
    if there != audience and place.exists() and _leaves(place):
        raise WorkspaceError(
            f"{place} holds the {there}'s pages: whoever reads them would read the {audience}'s; nothing was published.",
            "Choose another folder, or delete this one first.",
        )


def _leaves(place: Path) -> list[Path]:
    return [path for path in place.rglob("*") if path.is_symlink() or not path.is_dir()]


def _put(
    workspace: Workspace, audience: Audience, place: Path, pages: dict[str, bytes], before: dict[str, str], now: datetime
) -> Published:
    files = {path: hashlib.sha256(data).hexdigest() for path, data in pages.items()}
    new, aside = (place.with_name(f".{place.name}.speedworth-{name}") for name in ("next", "before"))
    try:
        for left in (new, aside):
            shutil.rmtree(left, ignore_errors=True)
        there = place.stat() if place.exists() else None
        _lay(new, pages, there)
        _note(workspace, place, audience, now, before | files)  # whatever ends this now, the folder is known again
        put_in_place(place, new, aside)
    except OSError as fault:
        raise WorkspaceError(f"{place} cannot be written: {fault.strerror}.", "Check its permissions and the disk.") from fault
    finally:
        shutil.rmtree(new, ignore_errors=True)
    _note(workspace, place, audience, now, files)
    changed = sum(before.get(path) != digest for path, digest in files.items())
    note(workspace, now, "publish", files=len(files), new=changed)
    return Published(audience, place, len(files), changed, len(before.keys() - files.keys()))


def _lay(folder: Path, pages: dict[str, bytes], there: os.stat_result | None) -> None:
    """Write the files below a new folder, and let in whom the folder that is there lets in."""
    folder.mkdir(parents=True)
    for below, data in pages.items():
        (folder / below).parent.mkdir(parents=True, exist_ok=True)
        (folder / below).write_bytes(data)
    mode = _OWN if there is None else there.st_mode & 0o7777
    for path in (*folder.rglob("*"), folder):
        if there is not None and path.stat().st_gid != there.st_gid:
            shutil.chown(path, group=there.st_gid)
        path.chmod(mode if path.is_dir() else mode & 0o666)
