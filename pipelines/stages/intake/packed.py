""".gz and .zip: opened within limits, in memory, so that no entry can lead out of the workspace."""

from __future__ import annotations

import gzip
import io
import stat
import zipfile
import zlib
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from pipelines.stages.intake.discover import is_meant
from pipelines.stages.intake.table import Unread

if TYPE_CHECKING:
    from pipelines.stages.intake.discover import Arrival

MOST_BYTES = 1_000_000_000
MOST_FILE_BYTES = 500_000_000
MOST_RATIO = 200
MOST_ENTRIES = 2000
_FREE_BYTES = 10_000_000
"""Below this size the ratio does not matter: short files of zeros pack very well and harm nobody."""


def _too_much(size: int, packed: int) -> bool:
    return size > MOST_BYTES or (size > _FREE_BYTES and size > MOST_RATIO * max(packed, 1))


def _gunzipped(data: bytes) -> bytes | Unread:
    limit = max(_FREE_BYTES, min(MOST_BYTES, MOST_RATIO * len(data)))
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(data)) as packed:
            out = packed.read(limit + 1)
    except (OSError, EOFError, zlib.error) as fault:
        return Unread("not_readable", str(fault)[:200])
    return Unread("packed_too_tightly", f"more than {limit} bytes") if len(out) > limit else out


def _is_safe(entry: zipfile.ZipInfo) -> bool:
    path = PurePosixPath(entry.filename.replace("\\", "/"))
    is_link = stat.S_ISLNK(entry.external_attr >> 16)
    return not (path.is_absolute() or ".." in path.parts or is_link or ":" in path.parts[0] or entry.flag_bits & 1)


def _unzipped(data: bytes) -> list[tuple[str, bytes]] | Unread:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            entries = [entry for entry in packed.infolist() if not entry.is_dir()]
            size = sum(entry.file_size for entry in entries)
            if len(entries) > MOST_ENTRIES or _too_much(size, len(data)):
                return Unread("packed_too_tightly", f"{len(entries)} files, {size} bytes")
            for entry in entries:
                if not entry.filename or not _is_safe(entry):
                    return Unread("unsafe_entry", entry.filename[:200])
            found = [(entry.filename.replace("\\", "/"), entry) for entry in entries]
            return [(name, _entry_bytes(packed, entry)) for name, entry in found if all(map(is_meant, name.split("/")))]
    except (zipfile.BadZipFile, zlib.error, OSError, ValueError, NotImplementedError, EOFError, RuntimeError) as fault:
        return Unread("not_readable", str(fault)[:200])


def _entry_bytes(packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    """The bytes of an entry, no more than its directory promises."""
    with packed.open(entry) as stream:
        data = stream.read(entry.file_size + 1)
    if len(data) > entry.file_size:
        raise zipfile.BadZipFile(f"{entry.filename} is larger than the archive says")
    return data


def unpacked(arrival: Arrival, data: bytes) -> list[Arrival] | Unread:
    """The files inside an archive, as if each had been dropped by itself; why not, when it goes beyond the limits.

    An archive inside an archive is not opened.
    """
    try:
        return _inside(arrival, data)
    except Exception as fault:  # noqa: BLE001 - one odd archive must not stop a night
        return Unread("not_readable", f"{type(fault).__name__}: {fault}".splitlines()[0][:200])


def _inside(arrival: Arrival, data: bytes) -> list[Arrival] | Unread:
    if arrival.ending == ".gz":
        out = _gunzipped(data)
        if isinstance(out, Unread):
            return out
        inner = Path(arrival.name).stem
        return [replace(arrival, name=f"{_folder(arrival.name)}{inner}", entry=inner, data=out)]
    found = _unzipped(data)
    if isinstance(found, Unread):
        return found
    if not found:
        return Unread("empty_file")
    return [replace(arrival, name=f"{arrival.name}/{name}", entry=name, data=content) for name, content in found]


def _folder(name: str) -> str:
    head, slash, _ = name.rpartition("/")
    return head + slash
