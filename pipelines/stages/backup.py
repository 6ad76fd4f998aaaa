"""A copy of the workspace in one file, and bringing it back. The site is left out: it is rendered anew."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import tarfile
import tempfile
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipelines.workspace import Workspace, require_writable, writing
from schemas.errors import NotFoundError, WorkspaceError
from warehouse.connection import open_warehouse
from warehouse.night import forget_night

if TYPE_CHECKING:
    from datetime import datetime

KEPT = ("academy.toml", "academy.duckdb", ".site-key", ".id-key", "audit.log", "mappings", "archive", "quarantine")
_MANIFEST = "manifest.json"


@dataclass(frozen=True)
class Backup:
    """One copy.

    Attributes
    ----------
    path : Path
    n_files, n_bytes : int
        Files in it, and its size.
    """

    path: Path
    n_files: int
    n_bytes: int


def _stamp(now: datetime) -> str:
    return now.strftime("%Y-%m-%dT%H%M%SZ")


def _sha256(path: Path) -> str:
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


def back_up(workspace: Workspace, now: datetime, wait_s: float = 0.0) -> Backup:
    """Copy settings, warehouse, originals and quarantine into one file in ``backups/``, and read it again.

    Parameters
    ----------
    workspace : Workspace
    now : datetime
        UTC; stands in the name of the file.
    wait_s : float
        How long to wait for another process that holds the workspace [s].

    Raises
    ------
    WarehouseBusyError
        When a run is at work.
    WorkspaceError
        When what was written cannot be read again as it was.
    """
    target = workspace.backups / f"speedworth-{_stamp(now)}.tar.gz"
    with writing(workspace, "a backup", wait_s):
        _settle_warehouse(workspace)
        files = {str(path.relative_to(workspace.root)): path for path in _files(workspace)}
        part = target.with_suffix(".part")
        try:
            _write(part, files, now)
            with tempfile.TemporaryDirectory(dir=workspace.backups, prefix=".check-") as folder:
                _unpack(part, Path(folder))
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
    return Backup(target, len(files), target.stat().st_size)


def _write(target: Path, files: dict[str, Path], now: datetime) -> None:
    manifest = {
        "made_at": now.isoformat(),
        "version": metadata.version("speedworth"),
        "files": {name: _sha256(path) for name, path in files.items()},
    }
    data = json.dumps(manifest, indent=1).encode()
    with tarfile.open(target, "w:gz", compresslevel=3) as tar:
        head = tarfile.TarInfo(_MANIFEST)
        head.size = len(data)
        tar.addfile(head, io.BytesIO(data))
        for name, path in files.items():
            tar.add(path, arcname=name, recursive=False)


def restore(workspace: Workspace, copy: Path, now: datetime) -> Path:
    """Put the contents of a backup in place of what the workspace holds; what was there is moved aside, not deleted.

    The copy is unpacked and checked whole before anything is moved. The inbox is left as it is.

    Returns
    -------
    Path
        The folder to which the former contents were moved.

    Raises
    ------
    NotFoundError
        When there is no such file.
    WorkspaceError
        When the file is no whole backup.
    WarehouseNewerError
        When it was made by a newer version.
    """
    if not copy.is_file():
        raise NotFoundError(f"There is no backup {copy}.", f"Backups lie in {workspace.backups}.")
    workspace.root.mkdir(parents=True, exist_ok=True)
    require_writable(workspace)
    with writing(workspace, "a restore"), tempfile.TemporaryDirectory(dir=workspace.root, prefix=".restore-") as folder:
        unpacked = Path(folder)
        _unpack(copy, unpacked)
        if (unpacked / "academy.duckdb").exists():
            with open_warehouse(unpacked / "academy.duckdb") as con:
                forget_night(con)  # the pages that stand now are of another night
        aside = workspace.backups / f"replaced-{_stamp(now)}"
        aside.mkdir(exist_ok=True)
        _exchange(workspace.root, unpacked, aside)
    return aside


def _unpack(copy: Path, folder: Path) -> None:
    try:
        with tarfile.open(copy, "r:*") as tar:
            tar.extractall(folder, filter="data")
        manifest: dict[str, Any] = json.loads((folder / _MANIFEST).read_bytes())
        told: dict[str, str] = manifest["files"]
    except (tarfile.TarError, OSError, EOFError, ValueError, KeyError) as fault:
        raise WorkspaceError(f"{copy} is not a whole backup of speedworth.", "Choose another backup.") from fault
    (folder / _MANIFEST).unlink()
    found = {str(path.relative_to(folder)): _sha256(path) for path in folder.rglob("*") if path.is_file()}
    if found != told:
        wrong = min(set(found.items()) ^ set(told.items()))[0]
        raise WorkspaceError(f"{copy} is damaged: {wrong} differs from what was copied.", "Choose another backup.")


def _exchange(root: Path, unpacked: Path, aside: Path) -> None:
    for name in (*KEPT, "academy.duckdb.wal"):
        if (root / name).exists():
            shutil.move(root / name, aside / name)
    for name in KEPT:
        if (unpacked / name).exists():
            shutil.move(unpacked / name, root / name)
    for name in ("mappings", "archive", "quarantine"):
        (root / name).mkdir(exist_ok=True)
