"""Laying a new site beside the old one, and exchanging the two in one step.

The new site's unchanged files are hard links to the old site's, so they are not written again. A list beside the site, and never
in it, says what was made and from what: it tells which player's folder has which name.
"""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
import shutil
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from schemas.errors import RenderError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

_EXCHANGE = 2  # RENAME_EXCHANGE of renameat2(2)
_HERE = -100  # AT_FDCWD


def list_of(site_dir: Path) -> Path:
    """Where the list of a site's pages lies: beside the site, so that whoever is given the site is not given the list."""
    return site_dir.with_name(f".{site_dir.name}-pages.json")


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _room(entry: dict[str, Any]) -> str:
    """Folder of the pages about one player."""
    return str(min(entry["paths"], default="")).rpartition("/")[0]


@dataclass
class Shelf:
    """A site while it is laid.

    Attributes
    ----------
    old, new : Path
    before : dict
        The list of the old site.
    damaged : frozenset of str
        Files of the old site that are not what was written; they are written anew.
    n_written, n_unchanged : int
    """

    old: Path
    new: Path
    before: dict[str, Any]
    damaged: frozenset[str] = frozenset()
    n_written: int = 0
    n_unchanged: int = 0
    _files: dict[str, str] = field(default_factory=dict)
    _players: dict[str, dict[str, dict[str, Any]]] = field(default_factory=dict)
    _gone: dict[str, str] = field(default_factory=dict)
    _folders: set[str] = field(default_factory=set)

    def put(self, path: str, content: bytes) -> None:
        """Lay a file: linked when the old site has the same, written otherwise."""
        if path in self._files:
            raise RenderError(f"Two pages want the same place: {path}.", "Give one of them another path.")
        self._files[path] = digest = _sha256(content)
        if self.before["files"].get(path) == digest and self._link(path):
            return
        self._write(path, content)

    def put_named(self, path: str, make: Callable[[], str]) -> None:
        """Lay a file whose name changes with its content: linked when the old site has one of that name, made otherwise."""
        known = self.before["files"].get(path)
        if known is not None and self._link(path):
            self._files[path] = known
        else:
            self.put(path, make().encode())

    def old_entry(self, folder: str, player_id: str, ground: str) -> dict[str, Any] | None:
        """What the list says of a player; None where the old pages are damaged, or stood among other things."""
        entry = self.before["players"].get(folder, {}).get(player_id)
        if entry is None or entry["digest"] != ground or not self.damaged.isdisjoint(entry["paths"]):
            return None
        return dict(entry)

    def put_player(self, folder: str, player_id: str, ground: str, pages: dict[str, bytes], told: dict[str, Any]) -> None:
        """Lay the pages about one player, those that ``told`` names and were not made anew as they were."""
        kept = {path for piece in told.get("pieces", {}).values() for path in piece["paths"]} - pages.keys()
        for path, content in pages.items():
            self.put(path, content)
        self._keep_files(kept)
        self._players.setdefault(folder, {})[player_id] = {"digest": ground, "paths": sorted({*pages, *kept}), **told}

    def keep(self, folder: str, player_id: str) -> None:
        """Keep the old pages about a player as they are."""
        entry = self.before["players"][folder][player_id]
        self._keep_files(entry["paths"])
        self._players.setdefault(folder, {})[player_id] = entry

    def _keep_files(self, paths: Iterable[str]) -> None:
        for path in paths:
            self._files[path] = self.before["files"][path]
            self._link(path)

    def no_longer_made(self, folder: str) -> list[str]:
        """Pages of the old site that the new one lacks, without those about players who are gone."""
        before = self.before["players"].get(folder, {})
        erased = set(before) - set(self._players.get(folder, {}))
        forgotten = {path for player_id in erased for path in before[player_id]["paths"]}
        old = (*self.before["files"], *self.before["gone"])
        here = (path for path in old if path.startswith(f"{folder}/") and path.endswith(".html"))
        return sorted({path for path in here if path not in self._files and path not in forgotten and not self._is_closed(path)})

    def _is_closed(self, path: str) -> bool:
        """Whether it lay in the folder of a player who has another one now: nobody is to find anything there."""
        room = path.rpartition("/")[0]
        return path.startswith("players/") and not any(new.startswith(f"{room}/") for new in self._files)

    def n_moved(self, folder: str) -> int:
        """How many players have their pages in another place than before."""
        before, now = self.before["players"].get(folder, {}), self._players.get(folder, {})
        return sum(_room(before[player]) != _room(now[player]) for player in before.keys() & now.keys())

    def put_gone(self, path: str, text: str) -> None:
        """Lay the line that a page no longer made leaves behind."""
        self.put(path, text.encode())
        self._gone[path] = self._files.pop(path)

    def _link(self, path: str) -> bool:
        if path in self.damaged or not (self.old / path).is_file():
            return False
        source, target = self.old / path, self._place(path)
        try:
            os.link(source, target)
        except OSError:
            shutil.copyfile(source, target)
        self.n_unchanged += 1
        return True

    def _place(self, path: str) -> Path:
        """Where a file of the new site is laid; its folder is there."""
        target, folder = self.new / path, path.rpartition("/")[0]
        if folder not in self._folders:
            target.parent.mkdir(parents=True, exist_ok=True)
            self._folders.add(folder)
        return target

    def _write(self, path: str, content: bytes) -> None:
        self._place(path).write_bytes(content)
        self.n_written += 1

    def write_list(self) -> None:
        """Write the list of pages; without it, or with an older one, the next night makes anew what differs from it."""
        _write_list(self.old, {"files": self._files, "players": self._players, "gone": self._gone})


def forget_rows(site_dir: Path) -> None:
    """Let no page about a player stand: the next site makes them all, from whatever rows."""
    before = _before(site_dir)
    for room in before["players"].values():
        for entry in room.values():
            entry["digest"] = ""
    if before["files"]:
        _write_list(site_dir, before)


def _write_list(site_dir: Path, made: dict[str, Any]) -> None:
    part = list_of(site_dir).with_suffix(".part")
    part.write_text(json.dumps(made, sort_keys=True, separators=(",", ":")), encoding="utf-8")
    part.replace(list_of(site_dir))


def _before(site_dir: Path) -> dict[str, Any]:
    empty: dict[str, Any] = {"files": {}, "players": {}, "gone": {}}
    try:
        found = json.loads(list_of(site_dir).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return empty
    return found if isinstance(found, dict) and set(found) == set(empty) else empty


def damaged_files(site_dir: Path) -> frozenset[str]:
    """Files of a site that are gone, or not what was written, by the list that lies beside them; and those that nobody made."""
    return _damaged(site_dir, written_files(site_dir))


def _damaged(site_dir: Path, told: dict[str, str]) -> frozenset[str]:
    there = set(_files_below(site_dir))
    changed = {path for path, digest in told.items() if not _is_as_written(site_dir / path, digest)}
    return frozenset(changed | (there - told.keys()))


def _files_below(site_dir: Path) -> Iterator[str]:
    """Every file and every link, by its path below the site."""
    for folder, folders, files in os.walk(site_dir):
        below = os.path.relpath(folder, site_dir)
        for name in (*files, *(one for one in folders if os.path.islink(os.path.join(folder, one)))):  # noqa: PTH114, PTH118 - quick
            yield name if below == "." else f"{below}/{name}"


def written_files(site_dir: Path) -> dict[str, str]:
    """Path below the site, to checksum, of everything that was written; empty when there is no site."""
    return _written(_before(site_dir))


def _written(before: dict[str, Any]) -> dict[str, str]:
    return dict(before["files"] | before["gone"])


def _is_as_written(path: Path, digest: str) -> bool:
    return not path.is_symlink() and path.is_file() and _sha256(path.read_bytes()) == digest


def exchange(first: Path, second: Path) -> bool:
    """Exchange two folders in one step; False where the system cannot."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    return bool(rename(_HERE, os.fsencode(first), _HERE, os.fsencode(second), _EXCHANGE) == 0)


def put_in_place(site_dir: Path, new: Path, aside: Path) -> None:
    """Put a folder in the place of another, in one step where the system can; the other one is removed."""
    if not site_dir.exists():
        new.rename(site_dir)
    elif exchange(new, site_dir):
        new.rename(aside)
    else:
        site_dir.rename(aside)
        new.rename(site_dir)
    shutil.rmtree(aside, ignore_errors=True)


@contextmanager
def new_site(site_dir: Path) -> Iterator[Shelf]:
    """A shelf for the new site; at the end of the block it takes the old site's place. A fault leaves the old site as it is.

    Raises
    ------
    RenderError
        When the folder cannot be written.
    """
    new, aside = site_dir.with_name(f".{site_dir.name}-next"), site_dir.with_name(f".{site_dir.name}-before")
    try:
        if aside.exists() and not site_dir.exists():  # a crash between two renames, on a system without exchange
            aside.rename(site_dir)
        shutil.rmtree(new, ignore_errors=True)
        shutil.rmtree(aside, ignore_errors=True)
        new.mkdir(parents=True)
        before = _before(site_dir)
        site = Shelf(site_dir, new, before, _damaged(site_dir, _written(before)))
        yield site
        put_in_place(site_dir, new, aside)
        site.write_list()
    except OSError as fault:
        raise RenderError(
            f"The site folder {site_dir} cannot be written: {fault.strerror or fault}.", "Check its permissions and free space."
        ) from fault
    finally:
        shutil.rmtree(new, ignore_errors=True)
