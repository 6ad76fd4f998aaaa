"""What was dropped and is not accepted yet: files beside the inbox, and how somebody corrected that they are read."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from pipelines.desk.handing import FORM_ID, lay_in_inbox
from pipelines.stages.desk_view import DROPS_KEPT, forget_old_drops
from pipelines.stages.intake import HandedMapping, handed_text
from pipelines.stages.intake.discover import one_file
from pipelines.stages.intake.disk import sync_folder, write_durably
from pipelines.stages.intake.reading import delivery_id

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from pipelines.stages.intake import Readings
    from pipelines.workspace import Workspace

MOST_DROPS, MOST_BYTES = 40, 2_000_000_000
"""Drops that may wait to be accepted, and their size in all."""
_CORRECTED = ".corrected"
_NAME = re.compile(r"[^\w. ()+-]", re.ASCII)
_LONGEST_NAME = 120


def safe_name(name: str) -> str:
    """The last step of a file's name, without what no name of ours holds; empty when nothing is left."""
    last = name.replace("\\", "/").rpartition("/")[2]
    return _NAME.sub("_", last).lstrip(". ")[-_LONGEST_NAME:]


@dataclass(frozen=True)
class DroppedFile:
    """One file of a drop.

    Attributes
    ----------
    path : Path
    mapping : str
        Name of the mapping that it is read through; empty for our own form.
    """

    path: Path
    mapping: str

    @property
    def key(self) -> str:
        """By which an address names it."""
        return hashlib.sha256(f"{self.mapping}/{self.path.name}".encode()).hexdigest()[:16]


@dataclass(frozen=True)
class Drop:
    """Files that were dropped together.

    Attributes
    ----------
    folder : Path
    """

    folder: Path

    @property
    def drop_id(self) -> str:
        """By which forms and addresses name it."""
        return self.folder.name

    @property
    def until(self) -> datetime:
        """When it is forgotten unless it is accepted."""
        return datetime.fromtimestamp(self.folder.stat().st_mtime, UTC) + DROPS_KEPT

    def files(self) -> list[DroppedFile]:
        """Its files, those of our own form first."""
        there = sorted(path for path in self.folder.glob("*") if path.is_file())
        below = sorted(path for path in self.folder.glob("*/*") if path.is_file() and path.parent.name != _CORRECTED)
        return [DroppedFile(path, "") for path in there] + [DroppedFile(path, path.parent.name) for path in below]

    def file(self, key: str) -> DroppedFile | None:
        """The file that an address names; None when it is not here."""
        return next((file for file in self.files() if file.key == key), None)

    def corrections(self) -> dict[str, HandedMapping]:
        """Mappings that were made for its files, by name: they are handed in with them."""
        told = (json.loads(path.read_text(encoding="utf-8")) for path in sorted((self.folder / _CORRECTED).glob("*.json")))
        return {row["mapping"]: HandedMapping(**row) for row in told}

    def texts(self) -> dict[str, str]:
        """The texts of these."""
        return {name: handed.text for name, handed in self.corrections().items()}

    def add(self, name: str, mapping: str) -> Path:
        """Where a file of that name is laid; its folder is there."""
        below = self.folder / mapping
        below.mkdir(mode=0o700, parents=True, exist_ok=True)
        return below / safe_name(name)

    def correct(self, files: list[DroppedFile], handed: HandedMapping, now: datetime) -> None:
        """Keep a mapping for these files, from now on read through it; mappings that no file needs any more go."""
        self._keep(handed)
        for file in files:
            target = self.add(file.path.name, handed.mapping)
            if file.path != target:
                file.path.replace(_free(target, self.drop_id))
        self._let_go()
        self.touch(now)

    def _keep(self, handed: HandedMapping) -> None:
        place = self.folder / _CORRECTED
        place.mkdir(mode=0o700, exist_ok=True)
        write_durably(place / f"{handed.mapping}.json", handed_text(handed).encode())

    def _let_go(self) -> None:
        """Take away the mappings that no file needs any more."""
        needed = {file.mapping for file in self.files()}
        for path in (self.folder / _CORRECTED).glob("*.json"):
            if path.stem not in needed:
                path.unlink()

    def part(self, chosen: Iterable[DroppedFile], readings: Readings, now: datetime) -> Drop:
        """These files as a drop of their own, which waits like any other should the way end here; the rest stays.

        A mapping that was made for files of both goes with both, each time for one of the files that it lies with.
        """
        files, handed = sorted(chosen, key=lambda file: file.key), self.corrections()
        told = "|".join([self.drop_id, *(file.key for file in files)])
        found = Drop(self.folder.with_name(hashlib.sha256(told.encode()).hexdigest()[:32]))
        found.folder.mkdir(mode=0o700, exist_ok=True)
        for mapping in sorted({file.mapping for file in files} & handed.keys()):
            found._keep(handed[mapping])
        for file in files:
            file.path.replace(found.add(file.path.name, file.mapping))
        for drop in (found, self):
            drop._let_go()
            drop._mean_own_files(readings)
            drop.touch(now)
        return found

    def _mean_own_files(self, readings: Readings) -> None:
        """Say of each mapping that it is for a file that lies here."""
        lies = {file.mapping: file.path for file in reversed(self.files())}
        for name, handed in self.corrections().items():
            file_id = delivery_id(one_file(lies[name], name), lies[name].read_bytes(), readings)
            if file_id != handed.file_id:
                self._keep(replace(handed, file_id=file_id))

    def touch(self, now: datetime) -> None:
        """Keep it for another day."""
        os.utime(self.folder, (now.timestamp(), now.timestamp()))

    def lay(self, file: DroppedFile, inbox: Path) -> str:
        """Lay a file into the inbox; under which name it waits there."""
        below = inbox / file.mapping
        below.mkdir(exist_ok=True)
        sync_folder(inbox)
        target = _free(below / file.path.name, self.drop_id)
        lay_in_inbox(file.path, target)
        return str(target.relative_to(inbox))

    def forget(self) -> None:
        """Take it away."""
        shutil.rmtree(self.folder, ignore_errors=True)


def _free(target: Path, drop_id: str) -> Path:
    """The place, or one beside it where another file has it."""
    return target.with_name(f"{target.stem}_{drop_id[:8]}{target.suffix}") if target.exists() else target


def drop_of(workspace: Workspace, drop_id: str) -> Drop | None:
    """The drop of that id; None when there is none."""
    folder = workspace.desk / "dropped" / drop_id
    return Drop(folder) if FORM_ID.fullmatch(drop_id) and folder.is_dir() else None


def new_drop(workspace: Workspace, drop_id: str, now: datetime) -> Drop | None:
    """The drop of that id, made if need be; None when so much waits already that nothing more is kept."""
    waiting = open_drops(workspace, now)
    size = sum(file.path.stat().st_size for drop in waiting for file in drop.files())
    folder = workspace.desk / "dropped" / drop_id
    if not folder.is_dir() and (len(waiting) >= MOST_DROPS or size >= MOST_BYTES):
        return None
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return Drop(folder)


def open_drops(workspace: Workspace, now: datetime) -> list[Drop]:
    """Drops that nobody accepted or took back, the latest first; those that are too old are forgotten."""
    forget_old_drops(workspace, now)
    found = (Drop(path) for path in (workspace.desk / "dropped").glob("*") if path.is_dir())
    return sorted(found, key=lambda drop: (-drop.folder.stat().st_mtime, drop.drop_id))
