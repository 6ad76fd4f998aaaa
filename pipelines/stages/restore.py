"""Bringing a backup back: read and checked whole beside what stands, then exchanged; what stood is kept."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.exchange import begin_exchange
from pipelines.stages.audit_log import note
from pipelines.stages.player_erasure import finish_erasures
from pipelines.stages.seal import Opener, decrypt, is_encrypted
from pipelines.stages.unpack import unpack
from pipelines.workspace import require_writable, writing
from schemas.errors import NotFoundError
from warehouse.connection import open_warehouse
from warehouse.night import forget_night

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from pipelines.stages.unpack import Contents
    from pipelines.workspace import Workspace


def restore(
    workspace: Workspace,
    copy: Path,
    now: datetime,
    *,
    opener: Opener | None = None,
    from_elsewhere: bool = False,
    tell: Callable[[str], None] = lambda _: None,
) -> Path:
    """Put the contents of a backup in place of what the workspace holds; what was there is moved aside, not deleted.

    The copy is unpacked and checked whole before anything is moved; from the first move on, the next start finishes what an end
    in between left. The inbox is left as it is, and so are the players' links, where there are any.

    Parameters
    ----------
    workspace : Workspace
    copy : Path
    now : datetime
        UTC.
    opener : Opener, optional
        Key or passphrase of an encrypted copy.
    from_elsewhere : bool
        Take a copy that another workspace made.
    tell : callable
        Told how big it becomes, before anything is written.

    Returns
    -------
    Path
        The folder to which the former contents were moved.

    Raises
    ------
    NotFoundError
        When there is no such file.
    UsageError, WorkspaceError
        When it cannot be opened, is no whole backup, or was made elsewhere.
    WarehouseNewerError
        When it was made by a newer version.
    """
    if not copy.is_file():
        raise NotFoundError(f"There is no backup {copy}.", f"Backups lie in {workspace.backups}.")
    workspace.root.mkdir(parents=True, exist_ok=True)
    require_writable(workspace)
    with writing(workspace, "a restore"), tempfile.TemporaryDirectory(dir=workspace.root, prefix=".restore-") as folder:
        own = workspace.backup_key_file
        key = own.read_bytes() if own.is_file() and not from_elsewhere else None
        brought = Path(folder) / "brought"
        brought.mkdir()
        unpack_any(copy, brought, key, opener or Opener(), tell)
        if (brought / workspace.warehouse.name).exists():
            with open_warehouse(brought / workspace.warehouse.name) as con:
                forget_night(con)  # the pages that stand now are of another night
        if workspace.key_file.exists():  # links that were renewed since stay so
            shutil.copy2(workspace.key_file, brought / workspace.key_file.name)
        aside = workspace.backups / f"replaced-{now:%Y-%m-%dT%H%M%SZ}"
        begin_exchange(workspace.root, brought, aside)
        if workspace.settings.is_file():
            finish_erasures(workspace, now)  # who was erased since does not come back, not even until the next run
        note(workspace, now, "restore")
    return aside


def unpack_any(copy: Path, folder: Path, key: bytes | None, opener: Opener, tell: Callable[[str], None]) -> Contents:
    """Lay the files of a backup into a folder; of an encrypted one, what it was made of is written beside the folder first."""
    if not is_encrypted(copy):
        return unpack(copy, folder, key, tell)
    plain = folder.with_name(f"{folder.name}.tar.gz")
    try:
        decrypt(copy, plain, opener)
        return unpack(plain, folder, key, tell)
    finally:
        plain.unlink(missing_ok=True)
