"""A copy of the workspace in one file. The site is left out: it is rendered anew."""

from __future__ import annotations

import hashlib
import io
import json
import tarfile
import tempfile
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.exchange import KEPT
from pipelines.stages.intake.originals import LIST
from pipelines.stages.rebuild import damaged_originals, listed_originals
from pipelines.stages.seal import Opener, Readers, decrypt, decrypt_with, encrypt, known_keys, signature
from pipelines.stages.unpack import HEAD, MANIFEST, unpack
from pipelines.workspace import writing
from schemas.errors import WarehouseCorruptError
from warehouse.connection import open_warehouse
from warehouse.migrate import migrations

if TYPE_CHECKING:
    from datetime import datetime

    import pyrage

    from pipelines.workspace import Workspace

SUMS = ".backup-sums"
_ENDING = ".tar.gz"


@dataclass(frozen=True)
class Backup:
    """One copy.

    Attributes
    ----------
    path : Path
    n_files, n_bytes : int
        Files in it, and its size.
    is_encrypted : bool
    """

    path: Path
    n_files: int
    n_bytes: int
    is_encrypted: bool


def sha256_of(path: Path) -> str:
    """Checksum of a file."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _settle_warehouse(workspace: Workspace) -> None:
    """Write what still stands in the write-ahead log into the file, so that the file alone is whole."""
    if workspace.warehouse.exists():
        with open_warehouse(workspace.warehouse) as con:
            con.execute("checkpoint").fetchall()


def _files(workspace: Workspace) -> list[Path]:
    found: list[Path] = []
    for name in KEPT:
        part = workspace.root / name
        found += sorted(item for item in part.rglob("*") if _is_kept(item)) if part.is_dir() else [part] * _is_kept(part)
    return found


def _is_kept(path: Path) -> bool:
    """A file itself: a link would bring in what lies elsewhere, and could not be brought back."""
    return path.is_file() and not path.is_symlink()


def _refuse_damaged(workspace: Workspace) -> None:
    if not (workspace.archive / LIST).is_file():
        return  # nothing was taken in yet
    damaged = damaged_originals(workspace, listed_originals(workspace))
    if damaged:
        raise WarehouseCorruptError(
            f"{damaged[0]} is gone, or not what was archived: a backup of it would be one of damaged data.",
            "Put it back from an older backup, or take the data as they are with `speedworth rebuild --incomplete`.",
        )


def usual_readers(workspace: Workspace) -> Readers:
    """Readers of a backup that nobody asks for, as the weekly one: the keys of the workspace; anybody when it has none.

    Such a copy lies beside the warehouse itself, and is no easier to read than that.
    """
    return Readers(known_keys(workspace))


def back_up(workspace: Workspace, now: datetime, wait_s: float = 0.0, readers: Readers | None = None) -> Backup:
    """Copy settings, warehouse, originals and quarantine into one file in ``backups/``, and read it again.

    Parameters
    ----------
    workspace : Workspace
    now : datetime
        UTC; stands in the name of the file.
    wait_s : float
        How long to wait for another process that holds the workspace [s].
    readers : Readers, optional
        Who can read it; by default see :func:`usual_readers`.

    Raises
    ------
    WarehouseBusyError
        When a run is at work.
    WarehouseCorruptError
        When an original is gone or damaged.
    WorkspaceError
        When what was written cannot be read again as it was.
    """
    readers = readers or usual_readers(workspace)
    target = workspace.backups / f"speedworth-{now:%Y-%m-%dT%H%M%SZ}{_ENDING}{'' if readers.anybody else '.age'}"
    with writing(workspace, "a backup", wait_s):
        _settle_warehouse(workspace)
        _refuse_damaged(workspace)
        key = workspace.backup_key()
        files = {str(path.relative_to(workspace.root)): path for path in _files(workspace)}
        with tempfile.TemporaryDirectory(dir=workspace.backups, prefix=".part-") as folder:
            written = _write_readable(Path(folder), files, key, now, readers)
            written.replace(target)
        _note_sum(workspace, target)
    return Backup(target, len(files), target.stat().st_size, not readers.anybody)


def _write_readable(folder: Path, files: dict[str, Path], key: bytes, now: datetime, readers: Readers) -> Path:
    """The copy in ``folder``; what was written is read again, as a restore would."""
    plain = folder / f"copy{_ENDING}"
    _write(plain, files, key, now)
    again, written = plain, plain
    if not readers.anybody:
        written, again = folder / f"copy{_ENDING}.age", folder / f"again{_ENDING}"
        passing = encrypt(plain, written, readers)
        plain.unlink()
        _read_again(written, again, readers, passing)
    (folder / "check").mkdir()
    unpack(again, folder / "check", key)
    return written


def _read_again(written: Path, again: Path, readers: Readers, passing: pyrage.x25519.Identity | None) -> None:
    if passing is None:
        decrypt(written, again, Opener(passphrase=readers.passphrase))
    else:
        decrypt_with(written, again, [passing])


def _write(target: Path, files: dict[str, Path], key: bytes, now: datetime) -> None:
    manifest = {
        "format": 1,
        "made_at": now.isoformat(),
        "version": metadata.version("speedworth"),
        "migration": max(script.number for script in migrations()),
        "files": {name: {"sha256": sha256_of(path), "bytes": path.stat().st_size} for name, path in files.items()},
    }
    data = json.dumps(manifest, indent=1).encode()
    with tarfile.open(target, "w:gz", compresslevel=3) as tar:
        for name, content in ((MANIFEST, data), (HEAD, signature(data, key).encode())):
            head = tarfile.TarInfo(name)
            head.size = len(content)
            tar.addfile(head, io.BytesIO(content))
        for name, path in files.items():
            tar.add(path, arcname=name, recursive=False)


def _note_sum(workspace: Workspace, target: Path) -> None:
    """Keep the checksum of the file, so that it can be seen later whether it is still what was written."""
    sums = {name: sha256 for name, sha256 in sums_of(workspace).items() if (workspace.backups / name).exists()}
    lines = [f"{sha256}  {name}\n" for name, sha256 in (sums | {target.name: sha256_of(target)}).items()]
    part = workspace.root / f"{SUMS}.part"
    part.write_text("".join(lines), encoding="utf-8")
    part.replace(workspace.root / SUMS)


def sums_of(workspace: Workspace) -> dict[str, str]:
    """Checksums of the backups by name."""
    path = workspace.root / SUMS
    if not path.is_file():
        return {}
    pairs = [line.partition("  ") for line in path.read_text(encoding="utf-8").splitlines()]
    return {name: sha256 for sha256, _, name in pairs}
