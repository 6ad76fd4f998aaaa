"""The workspace: one folder per academy. Where everything lies in it, how it begins, and who may write to it now."""

from __future__ import annotations

import json
import os
import secrets
import tempfile
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import available_timezones

from filelock import FileLock, Timeout

from pipelines.exchange import clear_unfinished, finish_exchange
from pipelines.settings import FILE_NAME, default_settings, read_settings
from schemas.errors import WarehouseBusyError, WorkspaceError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import datetime

    from schemas.academy import Academy

FOLDERS = ("inbox", "mappings", "archive", "quarantine", "site", "backups")


@dataclass(frozen=True)
class Workspace:
    """One academy's folder.

    Attributes
    ----------
    root : Path
    """

    root: Path

    @property
    def settings(self) -> Path:
        """academy.toml."""
        return self.root / FILE_NAME

    @property
    def inbox(self) -> Path:
        """Files are dropped here."""
        return self.root / "inbox"

    @property
    def mappings(self) -> Path:
        """How foreign exports become our columns."""
        return self.root / "mappings"

    @property
    def archive(self) -> Path:
        """Every accepted original, by content."""
        return self.root / "archive"

    @property
    def quarantine(self) -> Path:
        """Rejected files and rows with their problems."""
        return self.root / "quarantine"

    @property
    def warehouse(self) -> Path:
        """The DuckDB file."""
        return self.root / "academy.duckdb"

    @property
    def site(self) -> Path:
        """The pages."""
        return self.root / "site"

    @property
    def backups(self) -> Path:
        """Copies."""
        return self.root / "backups"

    @property
    def log(self) -> Path:
        """What was done to the workspace: one line per night, intake, export, erasure, restore; ids and counts only."""
        return self.root / "audit.log"

    @property
    def rewrite_due(self) -> Path:
        """There when rows that nobody may keep were taken out: the warehouse file is written anew after the next night."""
        return self.root / ".rewrite-due"

    @property
    def erasure_due(self) -> Path:
        """There from the first step of an erasure to its last: the next start finishes one that was ended in between."""
        return self.root / ".erasure-due"

    @property
    def desk(self) -> Path:
        """What the desk keeps for itself: keys, sessions, and the few rows that its forms show."""
        return self.root / ".desk"

    @property
    def lock(self) -> Path:
        """Held by the process that writes."""
        return self.root / ".lock"

    @property
    def holder(self) -> Path:
        """Who holds the lock, and for what; read only while it is held."""
        return self.root / ".at-work"

    @property
    def key_file(self) -> Path:
        """Secret from which the names of the players' folders are made."""
        return self.root / ".site-key"

    def site_key(self) -> bytes:
        """The secret; made at its first use, and never told."""
        return _secret(self.key_file)

    @property
    def published(self) -> Path:
        """What was put where by `publish`."""
        return self.root / ".published.json"

    @property
    def shared(self) -> Path:
        """What was shared with the federation, month by month, and whom it was about, by keyed marks."""
        return self.root / ".shared.json"

    def id_key(self) -> bytes:
        """Secret from which ids of flags are made; made at its first use, and never told."""
        return _secret(self.root / ".id-key")

    @property
    def backup_key_file(self) -> Path:
        """Secret with which backups are signed."""
        return self.root / ".backup-key"

    def backup_key(self) -> bytes:
        """That secret; made at its first use, and never told."""
        return _secret(self.backup_key_file)

    def academy(self) -> Academy:
        """The settings.

        Raises
        ------
        SettingsError
            When academy.toml cannot be used as written.
        """
        return read_settings(self.settings)


def _secret(path: Path) -> bytes:
    """What a file of secret bytes holds; made when it is not there."""
    if not path.exists():
        part = path.with_suffix(".part")
        part.touch(mode=0o600)
        part.write_bytes(secrets.token_bytes(32))
        part.replace(path)
    return path.read_bytes()


def local_time_zone() -> str:
    """IANA name of this machine's time zone; ``UTC`` where it cannot be told."""
    _, _, linked = os.path.realpath("/etc/localtime").partition("/zoneinfo/")
    for name in (os.environ.get("TZ", "").lstrip(":"), linked.removeprefix("posix/")):
        if name and name in available_timezones():
            return name
    return "UTC"


def keep_to_owner() -> None:
    """Let whatever this process makes from now on be read by its own user alone, whatever the machine's habit is."""
    os.umask(0o077)


@contextmanager
def kept_to_owner() -> Iterator[None]:
    """The same within the block."""
    before = os.umask(0o077)
    try:
        yield
    finally:
        os.umask(before)


def _shut(workspace: Workspace) -> None:
    """Shut what an earlier version, or a file that was dropped, left readable to others. The inbox stays as it was opened."""
    folders = [workspace.root / name for name in FOLDERS if name != "inbox"]
    for path in (*folders, *workspace.root.glob(".prefect"), *(item for item in workspace.root.iterdir() if item.is_file())):
        mode = path.stat().st_mode & 0o777
        if mode & 0o077:
            with suppress(PermissionError):  # somebody else's: not ours to change, and doctor tells
                path.chmod(mode & 0o700)


def require_beside(workspace: Workspace, place: Path) -> None:
    """Refuse to write what leaves the workspace into one of its own folders: the inbox would take it in, the site publish it.

    Raises
    ------
    WorkspaceError
    """
    whole = place.resolve()
    for name in FOLDERS:
        if whole.is_relative_to((workspace.root / name).resolve()):
            raise WorkspaceError(
                f"{place} lies in {name}/ of the workspace, where only its own belongs.", "Choose another folder."
            )


def create_workspace(folder: Path, settings: str = "") -> Workspace:
    """Make an empty workspace; ``settings`` is the text of its academy.toml, by default one with this machine's time zone.

    Raises
    ------
    WorkspaceError
        When there is one already, or the folder cannot be written.
    """
    workspace = Workspace(folder)
    if workspace.settings.exists():
        raise WorkspaceError(f"{folder} is a workspace already.", "Choose another folder, or go on with this one.")
    around = next((each for each in folder.resolve().parents if Workspace(each).settings.is_file()), None)
    if around is not None:
        raise WorkspaceError(
            f"{folder} lies inside the workspace {around}.", "Choose a folder beside it: each keeps what is its own."
        )
    name = folder.resolve().name.encode(errors="replace").decode()  # a folder's name need not be text
    text = settings or default_settings(name, local_time_zone())
    lay_folder(folder, FOLDERS, {workspace.settings: text})
    return workspace


def lay_folder(folder: Path, below: Iterable[str], texts: Mapping[Path, str]) -> None:
    """Make a folder for its owner alone, with folders below it and texts in it: all are written before any is in its place.

    Raises
    ------
    WorkspaceError
        When it cannot be written; then nothing half-written is left.
    """
    with kept_to_owner():
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for name in below:
                (folder / name).mkdir(exist_ok=True)
            for path, text in texts.items():
                path.with_suffix(".part").write_text(text, encoding="utf-8")
            for path in texts:
                path.with_suffix(".part").replace(path)
        except OSError as fault:
            for path in texts:
                with suppress(OSError):  # the folder may be no folder at all
                    path.with_suffix(".part").unlink()
            raise _unwritable(folder, fault) from fault


def _unwritable(folder: Path, fault: OSError) -> WorkspaceError:
    reason = fault.strerror or type(fault).__name__
    return WorkspaceError(
        f"The folder {folder} cannot be written: {reason}.", "Check its permissions and the disk, or choose another."
    )


def find_workspace(folder: Path) -> Workspace:
    """The workspace in ``folder``.

    Raises
    ------
    WorkspaceError
        When there is none.
    """
    workspace = Workspace(folder)
    if not workspace.settings.is_file():
        raise WorkspaceError(
            f"There is no workspace in {folder} (no {FILE_NAME}).",
            "Name one with -w DIR, or make one with `speedworth new DIR`.",
        )
    return workspace


def require_writable(workspace: Workspace) -> None:
    """Try to write to every folder of the workspace that a run writes to; folders that are missing are made.

    Raises
    ------
    WorkspaceError
        When one cannot be written.
    """
    for name in ("", *FOLDERS):
        folder = workspace.root / name
        try:
            folder.mkdir(exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):  # without a name: a kill leaves nothing
                pass
        except OSError as fault:
            raise _unwritable(folder, fault) from fault


@contextmanager
def writing(workspace: Workspace, purpose: str, wait_s: float = 0.0) -> Iterator[None]:
    """Hold the workspace for writing within the block: one process at a time.

    Parameters
    ----------
    workspace : Workspace
    purpose : str
        What the process is about to do; another one that wants to write is told.
    wait_s : float
        How long to wait for another process [s].

    Raises
    ------
    WarehouseBusyError
        When another process still holds it after that time.
    WorkspaceError
        When the folder cannot be written.
    """
    with kept_to_owner():
        require_writable(workspace)
        with _locked(workspace, purpose, wait_s):
            finish_exchange(workspace.root)
            clear_unfinished(workspace.root)
            _shut(workspace)
            yield


@contextmanager
def _locked(workspace: Workspace, purpose: str, wait_s: float) -> Iterator[None]:
    lock = _lock_of(workspace)
    try:
        lock.acquire(timeout=wait_s, poll_interval=0.1)
    except Timeout as held:
        raise WarehouseBusyError(
            f"Another process is at work on {workspace.root}{_told_holder(workspace)}.",
            "Wait until it has finished, then try again.",
        ) from held
    try:
        workspace.holder.write_text(json.dumps({"pid": os.getpid(), "purpose": purpose}), encoding="utf-8")
        yield
    finally:
        workspace.holder.unlink(missing_ok=True)
        lock.release()


def _lock_of(workspace: Workspace) -> FileLock:
    return FileLock(workspace.lock, mode=0o600, thread_local=False)


def _told_holder(workspace: Workspace) -> str:
    try:
        told = json.loads(workspace.holder.read_text(encoding="utf-8"))
        return f" ({told['purpose']}, process {told['pid']})"
    except (OSError, ValueError, KeyError):
        return ""


def is_held(workspace: Workspace) -> bool:
    """Whether a process holds the workspace for writing now."""
    if not workspace.lock.exists():
        return False
    lock = _lock_of(workspace)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return True
    lock.release()
    return False


def pages_are_due(made: Path, every_min: int, now: datetime) -> bool:
    """Whether there are pages, and they are older than that; 0: never. ``made``: what every making of pages writes."""
    if not every_min or not made.exists():
        return False
    return now.timestamp() - made.stat().st_mtime >= every_min * 60
