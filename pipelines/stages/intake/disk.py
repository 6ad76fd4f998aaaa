"""Reading what waits, and laying originals and lists of problems where they belong. Every step may be repeated after a crash.

Order of a batch: lists of problems and redacted copies first, then the warehouse commits, then the originals are moved.
A crash before the commit repeats the batch; a crash after it leaves originals in the inbox, which are recognised by
their content and moved then.
"""

from __future__ import annotations

import contextlib
import os
import signal
import stat
from collections.abc import Iterator
from pathlib import Path

from pipelines.stages.intake.discover import Arrival, stamp_of
from pipelines.stages.intake.packed import MOST_FILE_BYTES

_LONGEST_NAME_BYTES = 120  # file systems allow 255, and lists of problems add to a name

_CAREFULLY = sum(getattr(os, name, 0) for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY"))
"""Follow no link, wait for no device, hand nothing to children, change no line ends; what a system does not have is left out."""

WAITING, GONE = "still_being_written", "gone"


def _is_being_written(handle: int) -> bool:
    """Whether another process has the file open for writing; False where the system cannot tell."""
    try:
        import fcntl  # noqa: PLC0415 - there is none on Windows, where an open file cannot be moved anyway
    except ImportError:
        return False
    try:
        fcntl.fcntl(handle, fcntl.F_SETSIG, signal.SIGURG)
        fcntl.fcntl(handle, fcntl.F_SETLEASE, fcntl.F_RDLCK)
        fcntl.fcntl(handle, fcntl.F_SETLEASE, fcntl.F_UNLCK)
    except BlockingIOError:
        return True
    except (OSError, AttributeError):
        return False
    return False


def content(arrival: Arrival) -> bytes | str:
    """The bytes of a file, or the code of why it is not taken now. Links are not followed, devices not opened."""
    if arrival.data is not None:
        return arrival.data
    if arrival.fault:
        return arrival.fault
    try:
        handle = os.open(arrival.path, os.O_RDONLY | _CAREFULLY)
    except FileNotFoundError:
        return GONE
    except PermissionError:
        return "no_permission"
    except OSError:
        return "not_readable"
    with open(handle, "rb", closefd=True) as file:  # noqa: PTH123 - from a handle that was opened without following links
        return _settled_bytes(arrival, file.fileno())


def _settled_bytes(arrival: Arrival, handle: int) -> bytes | str:
    """All bytes, when nobody changed the file meanwhile."""
    before = os.fstat(handle)
    if not stat.S_ISREG(before.st_mode):
        return "not_a_file"
    if before.st_size > MOST_FILE_BYTES:
        return "too_large"
    if stamp_of(before) != arrival.stamp or _is_being_written(handle):
        return WAITING
    try:
        data = _all_bytes(handle, before.st_size)
    except OSError:
        return "not_readable"
    return data if stamp_of(os.fstat(handle)) == arrival.stamp and len(data) == before.st_size else WAITING


def _all_bytes(handle: int, size: int) -> bytes:
    data = os.read(handle, size + 1)
    if len(data) >= size:
        return data
    parts = [data]
    while part := os.read(handle, 1 << 24):
        parts.append(part)
    return b"".join(parts)


def files_below(folder: Path) -> list[Path]:
    """Every file below a folder, in order; none that is a link to somewhere else."""
    return sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())


def flat_name(name: str) -> str:
    """A name below the inbox as one safe file name."""
    safe = "".join(sign if sign.isalnum() or sign in "._-" else "_" for sign in name.replace("/", "__")).lstrip(".")
    while len(safe.encode()) > _LONGEST_NAME_BYTES:
        safe = safe[1:]
    return safe or "file"


def ending(name: str) -> str:
    """The last ending of a name, safe."""
    return flat_name(Path(name).suffix)[:10] if Path(name).suffix else ""


def archive_place(file_id: str, name: str, *, redacted: bool) -> str:
    """Where an accepted original lies, below the workspace."""
    suffix = f".redacted.{ending(name)}" if redacted else f".{ending(name)}"
    return f"archive/{file_id[:2]}/{file_id}{suffix}".rstrip(".")


def quarantine_place(file_id: str, name: str, *, redacted: bool) -> str:
    """Where a held original lies, below the workspace."""
    stem = flat_name(name).removesuffix(f".{ending(name)}")
    return f"quarantine/{stem}.{file_id[:8]}{'.redacted' if redacted else ''}.{ending(name)}".rstrip(".")


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with _part_of(path) as part:
        part.write_bytes(data)
        part.replace(path)


@contextlib.contextmanager
def _part_of(path: Path) -> Iterator[Path]:
    """Where a file is written before it takes its place; a fault leaves nothing there."""
    part = path.with_name(f".{path.name}.part")
    try:
        yield part
    except OSError:
        part.unlink(missing_ok=True)
        raise


def write_durably(path: Path, data: bytes) -> None:
    """The same, and on the disk before this returns."""
    with _part_of(path) as part:
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Bring the names in a folder onto the disk."""
    if not hasattr(os, "O_DIRECTORY"):
        return  # a system without folders that can be opened keeps their names by itself
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def move_original(arrival: Arrival, place: Path, data: bytes) -> None:
    """Lay an original where it belongs and take it out of the inbox.

    When somebody touched it since it was read, what was read is written, and the newer file stays in the inbox.
    """
    place.parent.mkdir(parents=True, exist_ok=True)
    if _is_untouched(arrival) and not place.exists():
        arrival.path.rename(place)
        with contextlib.suppress(PermissionError):  # somebody else's file, in a folder that only this user may open
            place.chmod(0o600)
        return
    if not place.exists():
        write_whole(place, data)
    if arrival.kept and arrival.path != place:
        arrival.path.unlink(missing_ok=True)
    discard(arrival)


def _is_untouched(arrival: Arrival) -> bool:
    """Whether the file lies in the inbox as it was when it was read."""
    try:
        return not arrival.entry and not arrival.kept and stamp_of(arrival.path.lstat()) == arrival.stamp
    except OSError:
        return False


def discard(arrival: Arrival) -> None:
    """Remove from the inbox what is kept elsewhere; somebody else's newer file under that name stays."""
    if _is_untouched(arrival):
        arrival.path.unlink(missing_ok=True)


def set_aside(arrival: Arrival, place: Path) -> None:
    """Take what is no readable file out of the inbox, without following or opening it.

    A link is removed: what it leads to stays where it is, and a kept link would lead a backup astray. The files of a folder are
    laid side by side in one folder, however deep they lay.
    """
    if arrival.path.is_symlink():
        arrival.path.unlink(missing_ok=True)
        return
    place.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileNotFoundError):  # it was taken away meanwhile
        if arrival.path.is_dir():
            _lay_side_by_side(arrival.path, place)
        else:
            arrival.path.rename(place)


def _lay_side_by_side(folder: Path, place: Path) -> None:
    """Every file below a folder into one new folder; a folder below is moved up before it is looked into."""
    place.mkdir(exist_ok=True)
    waiting, n = [folder], len(list(place.iterdir()))
    while waiting:
        below = waiting.pop()
        for entry in sorted(os.scandir(below), key=lambda item: item.name):
            n += 1
            if entry.is_symlink():
                Path(entry.path).unlink()
            elif entry.is_dir(follow_symlinks=False):
                waiting.append(folder.with_name(f".{folder.name[:40]}.{n}.part"))
                Path(entry.path).rename(waiting[-1])
            else:
                Path(entry.path).rename(place / f"{n:04d}_{flat_name(entry.name)}")
        below.rmdir()
