"""What waits in the inbox: regular files only, links never followed, each with its kind and mapping."""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from schemas.files import KINDS

_TABLES = (".csv", ".parquet", ".jsonl", ".json", ".xlsx")
_ALIASES = {".ndjson": ".jsonl", ".txt": ".csv", ".tsv": ".csv"}
_PACKED = (".gz", ".zip")
MOST_FOLDERS_DEEP = 20
_NOT_MEANT = (".part", ".tmp", ".crdownload", ".partial", ".download", ".swp", "~")
_OF_SYSTEMS = ("thumbs.db", "desktop.ini", "__macosx")
"""Files and folders that systems lay beside what people keep."""


@dataclass(frozen=True)
class Arrival:
    """One file that waits, or one file inside an archive that waits.

    Attributes
    ----------
    path : Path
        The file on disk; for an entry of an archive, the archive.
    name : str
        Path below the inbox, with ``/``; an entry of an archive has the archive's name in front.
    mapping : str
        Name of its folder, which is the name of its mapping; empty for the native form.
    modified_at : datetime
        When it was last changed (UTC): the clock by which newer replaces older.
    stamp : tuple
        Device, inode, size and time of change: the same as long as nobody touches the file.
    fault : str
        Code when it is no readable file.
    entry : str
        Name inside the archive; empty otherwise.
    again : str
        What named it when it was taken in by an earlier run and is looked at again.
    why : str
        Why it is looked at again, in words, where somebody should know.
    accepted : bool
        Somebody confirmed what it changes.
    kept : bool
        It lies in the archive or in quarantine, not in the inbox.
    data : bytes or None
        Content that was read already.
    """

    path: Path
    name: str
    mapping: str
    modified_at: datetime
    stamp: tuple[int, int, int, int]
    fault: str = ""
    entry: str = ""
    again: str = ""
    why: str = ""
    accepted: bool = False
    kept: bool = False
    data: bytes | None = field(default=None, repr=False, compare=False)

    @property
    def version(self) -> tuple[datetime, str]:
        """Orders files: a later one is newer. Ties of the clock are settled by name, then by content."""
        return (self.modified_at, self.name)

    @property
    def is_redacted(self) -> bool:
        """It is a kept copy that lacks rows of which nothing may be kept."""
        return self.kept and ".redacted" in self.path.name

    @property
    def ending(self) -> str:
        """Format by the last ending: ``.csv`` and so on; empty when it is none of ours."""
        suffix = Path(self.name).suffix.lower()
        suffix = _ALIASES.get(suffix, suffix)
        return suffix if suffix in (*_TABLES, *_PACKED) else ""


def is_one_table(arrival: Arrival) -> bool:
    """Whether a file can be read as it lies there, and packs no others."""
    return not arrival.fault and arrival.ending not in {"", *_PACKED}


def kind_of(name: str) -> str:
    """Kind by the first word of the file's own name, whatever follows it; empty when it is none of ours."""
    first = re.match(r"[a-z]+", Path(name).name.lower())
    return first[0] if first and first[0] in KINDS else ""


def stamp_of(status: os.stat_result) -> tuple[int, int, int, int]:
    """What changes when somebody touches a file."""
    return (status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)


def modified_at(status: os.stat_result) -> datetime:
    """Time of change in UTC without zone, in whole microseconds; held inside the years that a warehouse can hold."""
    seconds, rest = divmod(max(min(status.st_mtime_ns, 4_102_444_800_000_000_000), 0), 1_000_000_000)
    return datetime.fromtimestamp(seconds, UTC).replace(microsecond=rest // 1000, tzinfo=None)


def utc(now: datetime) -> datetime:
    """An instant as the warehouse keeps it: UTC without zone."""
    return now.astimezone(UTC).replace(tzinfo=None) if now.tzinfo else now


def is_meant(name: str) -> bool:
    """Whether somebody wants a file or folder of this name taken in: not hidden, nor a system's, nor still being copied."""
    plain = name.lower()
    return not (plain.startswith((".", "~$")) or plain.endswith(_NOT_MEANT) or plain in _OF_SYSTEMS)


def _fault(entry: os.DirEntry[str], status: os.stat_result) -> str:
    if stat.S_ISLNK(status.st_mode):
        return "a_link"
    if not stat.S_ISREG(status.st_mode):
        return "not_a_file"
    return "" if os.access(entry.path, os.R_OK) else "no_permission"


def _printable(name: str) -> str:
    """A name as text that can be stored: bytes that are no UTF-8 are shown as such."""
    return os.fsencode(name).decode("utf-8", "backslashreplace")


def _looks_like_a_file(name: str) -> bool:
    return Path(name).suffix.lower() in (*_TABLES, *_ALIASES, *_PACKED)


def _walk(folder: Path, below: str, depth: int = 0) -> list[Arrival]:
    found: list[Arrival] = []
    for entry in _entries(folder):
        name = f"{below}/{_printable(entry.name)}".lstrip("/")
        try:
            status = entry.stat(follow_symlinks=False)
        except OSError:
            continue  # it has gone since the folder was read
        if not is_meant(entry.name):
            continue
        fault = _fault(entry, status)
        if entry.is_dir(follow_symlinks=False) and not _looks_like_a_file(entry.name):
            if depth < MOST_FOLDERS_DEEP and os.access(entry.path, os.R_OK | os.X_OK):
                found += _walk(Path(entry.path), name, depth + 1)
                continue
            fault = "too_deep" if depth >= MOST_FOLDERS_DEEP else "no_permission"
        mapping = name.split("/")[0] if "/" in name else ""
        found.append(Arrival(Path(entry.path), name, mapping, modified_at(status), stamp_of(status), fault))
    return found


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    try:
        return sorted(os.scandir(folder), key=lambda entry: entry.name)
    except FileNotFoundError:
        return []  # it has gone since the folder above was read


def waiting_files(workspace: Path) -> list[Arrival]:
    """Everything in ``inbox/`` that is meant to be taken in, by age and name. Hidden and half-copied names are left alone."""
    return sorted(_walk(workspace / "inbox", ""), key=lambda arrival: arrival.version)


def left_alone(workspace: Path) -> tuple[str, ...]:
    """Names in ``inbox/`` that are not taken: hidden, or still being copied by their name."""
    inbox = workspace / "inbox"
    return tuple(
        sorted(
            _printable(str(Path(folder, name).relative_to(inbox)))
            for folder, _, names in os.walk(inbox)
            for name in names
            if not is_meant(name)
        )
    )


def one_file(path: Path, mapping: str = "") -> Arrival:
    """A single file that does not lie in the inbox.

    Raises
    ------
    OSError
        When there is no such file.
    """
    status = path.lstat()
    fault = "a_link" if stat.S_ISLNK(status.st_mode) else "" if stat.S_ISREG(status.st_mode) else "not_a_file"
    if not fault and not os.access(path, os.R_OK):
        fault = "no_permission"
    name = f"{mapping}/{path.name}" if mapping else path.name
    return Arrival(path, name, mapping, modified_at(status), stamp_of(status), fault)
