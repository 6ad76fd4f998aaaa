"""Reading a backup: nothing of it is believed before it is seen to be what its signed list says."""

from __future__ import annotations

import hashlib
import json
import shutil
import tarfile
import zlib
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO, TYPE_CHECKING, Any

from pipelines.exchange import KEPT
from pipelines.stages.seal import is_signed
from schemas.errors import WarehouseNewerError, WorkspaceError
from warehouse.migrate import migrations

if TYPE_CHECKING:
    from collections.abc import Callable

MANIFEST, HEAD = "manifest.json", "manifest.hmac"
_MOST_LIST_BYTES = 64_000_000
_MOST_GROWTH = 100
_SMALL_BYTES = 100_000_000
_OTHER = "Choose another backup."


@dataclass(frozen=True)
class Contents:
    """What a backup says of itself.

    Attributes
    ----------
    version, made_at : str
    files : dict
        Name to checksum and size [bytes].
    """

    version: str
    made_at: str
    files: dict[str, tuple[str, int]]

    @property
    def n_bytes(self) -> int:
        """Size of all files together."""
        return sum(size for _, size in self.files.values())


def unpack(copy: Path, folder: Path, key: bytes | None, tell: Callable[[str], None] = lambda _: None) -> Contents:
    """Lay the files of a backup that is not (any more) encrypted into an empty folder.

    Parameters
    ----------
    copy : Path
    folder : Path
    key : bytes or None
        Secret with which the list must be signed; None: the secret that the backup itself holds.
    tell : callable
        Told how big it becomes, before anything is written.

    Raises
    ------
    WorkspaceError
        When it is no whole backup, was changed, or would not fit.
    WarehouseNewerError
        When a newer version made it.
    """
    try:
        with tarfile.open(copy, "r:gz") as tar:
            data, told = _first(tar, MANIFEST), _first(tar, HEAD).decode()
            contents = _contents(copy, data)
            _refuse_unsigned(copy, data, key, told)
            _refuse_too_big(copy, contents, folder)
            tell(f"It becomes {contents.n_bytes / 1e6:.1f} MB in {len(contents.files)} files.")
            _lay(tar, copy, contents, folder)
    except (tarfile.TarError, EOFError, ValueError, KeyError, TypeError, zlib.error, UnicodeDecodeError) as fault:
        raise WorkspaceError(f"{copy} is not a whole backup of speedworth.", _OTHER) from fault
    except OSError as fault:
        if fault.errno is not None:
            raise
        raise WorkspaceError(f"{copy} is not a whole backup of speedworth.", _OTHER) from fault
    if key is None:
        own = folder / ".backup-key"
        _refuse_unsigned(copy, data, own.read_bytes() if own.is_file() else b"", told)
    return contents


def _first(tar: tarfile.TarFile, name: str) -> bytes:
    member = tar.next()
    if member is None or member.name != name or not member.isreg() or member.size > _MOST_LIST_BYTES:
        raise ValueError(name)
    return _opened(tar, member).read()


def _opened(tar: tarfile.TarFile, member: tarfile.TarInfo) -> IO[bytes]:
    file = tar.extractfile(member)
    if file is None:
        raise ValueError(member.name)
    return file


def _contents(copy: Path, data: bytes) -> Contents:
    manifest: dict[str, Any] = json.loads(data)
    newest = max(script.number for script in migrations())
    if manifest["format"] != 1 or manifest["migration"] > newest:
        raise WarehouseNewerError(
            f"{copy} was made by speedworth {manifest['version']}, which is newer than this one.",
            "Use that version, or choose an older backup.",
        )
    files = {str(name): (str(one["sha256"]), int(one["bytes"])) for name, one in manifest["files"].items()}
    for name, (_, size) in files.items():
        if not _belongs(name) or size < 0:
            raise ValueError(name)
    return Contents(str(manifest["version"]), str(manifest["made_at"]), files)


def _belongs(name: str) -> bool:
    path = PurePosixPath(name)
    return (
        any(name == kept or name.startswith(f"{kept}/") for kept in KEPT)
        and ".." not in path.parts
        and "\\" not in name
        and str(path) == name
    )


def _refuse_unsigned(copy: Path, data: bytes, key: bytes | None, told: str) -> None:
    if key is not None and not is_signed(data, key, told):
        raise WorkspaceError(
            f"{copy} was made by another workspace, or was changed since.",
            "If you know where it comes from and that nobody could change it, add --from-elsewhere.",
        )


def _refuse_too_big(copy: Path, contents: Contents, folder: Path) -> None:
    free, packed = shutil.disk_usage(folder).free, copy.stat().st_size
    if contents.n_bytes > _SMALL_BYTES and contents.n_bytes > _MOST_GROWTH * packed:
        raise WorkspaceError(
            f"{copy} would grow from {packed / 1e6:.1f} to {contents.n_bytes / 1e6:.0f} MB: no backup of ours does.", _OTHER
        )
    if contents.n_bytes > free:
        raise WorkspaceError(
            f"{copy} would become {contents.n_bytes / 1e6:.0f} MB, and {free / 1e6:.0f} MB are free.",
            "Make room, then try again.",
        )


def _lay(tar: tarfile.TarFile, copy: Path, contents: Contents, folder: Path) -> None:
    waiting = dict(contents.files)
    while (member := tar.next()) is not None:
        sha256, size = waiting.pop(member.name, ("", -1))
        if not member.isreg() or member.size != size or _copied(tar, member, folder / member.name) != sha256:
            raise WorkspaceError(f"{copy} is damaged: {member.name} differs from what was copied.", _OTHER)
    if waiting:
        raise WorkspaceError(f"{copy} is damaged: {min(waiting)} is missing.", _OTHER)


def _copied(tar: tarfile.TarFile, member: tarfile.TarInfo, target: Path) -> str:
    """Write one file; returns its checksum."""
    target.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with _opened(tar, member) as source, target.open("wb") as out:
        while block := source.read(1 << 20):
            digest.update(block)
            out.write(block)
    return digest.hexdigest()
