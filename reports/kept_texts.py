"""Texts that take a second to make and rest on the program alone, kept for all workspaces of a user.

They lie in the folder that the system has for such things, the newest few of them. Each begins with the checksum of the rest and
is written under another name first: what a crash, a full disk or another program left there is made anew. A folder that others
may write into is not used, for what it holds becomes part of pages. Whoever deletes it loses seconds.
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

MOST_KEPT = 12
"""Texts that are kept: a megabyte each at most."""


def kept_text(key: str, make: Callable[[], str]) -> str:
    """The text that ``make`` gives, read where it was made before; ``key`` names all that it rests on."""
    try:
        place = _folder() / f"{hashlib.sha256(key.encode()).hexdigest()}.txt"
        kept = _read(place)
    except (OSError, RuntimeError):  # no home, or no right to it
        return make()
    return _keep(place, make()) if kept is None else kept


def _folder() -> Path:
    """The folder, which is this user's alone.

    Raises
    ------
    OSError, RuntimeError
        When there is none.
    """
    folder = _of_system() / "speedworth"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    told = folder.lstat()
    if not stat.S_ISDIR(told.st_mode) or (os.name == "posix" and (told.st_uid != os.getuid() or told.st_mode & 0o022)):
        raise PermissionError(folder)
    return folder


def _of_system() -> Path:
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    return named if named.is_absolute() else Path.home() / ".cache"


def _read(place: Path) -> str | None:
    """A kept text; None when there is none, or it is not what was written."""
    try:
        told, _, content = place.read_bytes().partition(b"\n")
    except FileNotFoundError:
        return None
    return content.decode() if told == _told(content) else None


def _told(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest().encode()


def _keep(place: Path, text: str) -> str:
    content = text.encode()
    part = ""
    try:
        number, part = tempfile.mkstemp(".part", dir=place.parent)
        with os.fdopen(number, "wb") as file:
            file.write(_told(content) + b"\n" + content)
        Path(part).replace(place)
        _drop_oldest(place.parent)
    except OSError:
        Path(part).unlink(missing_ok=True) if part else None
    return text


def _drop_oldest(folder: Path) -> None:
    """Files that nobody needs: all but the newest, and what a crash left half written."""
    ours = sorted((*folder.glob("*.txt"), *folder.glob("*.part")), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in ours[MOST_KEPT:]:
        path.unlink(missing_ok=True)
