"""The folder that academies share with their federation: on a disk, or in any store that fsspec reaches.

A file is there whole or not at all: on a disk it is written beside and exchanged, and a store of objects shows an object when
it is whole.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import fsspec

from pipelines.stages.intake.disk import write_whole
from schemas.errors import WorkspaceError

_LOCAL = {"", "file", "local"}


@dataclass(frozen=True)
class SharedFolder:
    """A place for shared files.

    Attributes
    ----------
    address : str
        As it stands in the settings.
    root : str
        As the file system calls it.
    files : fsspec file system
    is_local : bool
    """

    address: str
    root: str
    files: Any
    is_local: bool

    def place(self, path: str) -> str:
        """A path below the folder, as the file system calls it."""
        return f"{self.root.rstrip('/')}/{path}"

    def address_of(self, path: str) -> str:
        """A path below the folder, as a reader of files is told: with the store's own scheme where it lies on no disk."""
        return self.place(path) if self.is_local else str(self.files.unstrip_protocol(self.place(path)))

    def names(self, below: str) -> list[str]:
        """Paths of all files below a part of the folder, sorted; none where it is not there.

        Raises
        ------
        WorkspaceError
            When the folder cannot be read.
        """
        place = self.place(below).rstrip("/")
        try:
            self.files.invalidate_cache()
            found = self.files.find(place) if self.files.exists(place) else []
        except Exception as fault:  # each store has errors of its own
            raise self._unreached("read", fault) from fault
        start = len(self.place(""))
        return sorted(str(name)[start:] for name in found)

    def read(self, path: str) -> bytes:
        """The bytes of a file.

        Raises
        ------
        WorkspaceError
            When it cannot be read.
        """
        try:
            return bytes(self.files.cat_file(self.place(path)))
        except Exception as fault:  # as above
            raise self._unreached("read", fault) from fault

    def write(self, path: str, data: bytes) -> None:
        """Write a file in place of what was there.

        Raises
        ------
        WorkspaceError
            When it cannot be written.
        """
        try:
            if self.is_local:
                _write_local(Path(self.root), path, data)
            else:
                self.files.pipe_file(self.place(path), data)
        except Exception as fault:  # as above
            raise self._unreached("written", fault) from fault

    def _unreached(self, how: str, fault: Exception) -> WorkspaceError:
        reason = getattr(fault, "strerror", None) or str(fault) or type(fault).__name__
        return WorkspaceError(
            f"The shared folder {self.address} cannot be {how}: {reason}.",
            "Check address, network and who may write there; the next run tries again.",
        )


def _write_local(root: Path, path: str, data: bytes) -> None:
    """Write below a folder, and let in whom the folder lets in: whoever made it for the federation has settled that."""
    root.mkdir(parents=True, exist_ok=True)
    mode = root.stat().st_mode & 0o777
    target = root / path
    made = [folder for folder in reversed(target.parents) if root in folder.parents and not folder.exists()]
    write_whole(target, data)
    with suppress(PermissionError):  # somebody else's: not ours to change
        for folder in made:
            folder.chmod(mode)
        target.chmod(mode & 0o666)


def open_shared(address: str, beside: Path) -> SharedFolder:
    """The folder at an address: a path (below ``beside`` unless it is absolute) or a URL such as ``s3://bucket/golf``.

    Raises
    ------
    WorkspaceError
        When the package that reaches such an address is not installed, or the address is none.
    """
    protocol = address.partition("://")[0] if "://" in address else ""
    try:
        if protocol in _LOCAL:
            root = beside / address.removeprefix(f"{protocol}://" if protocol else "")
            return SharedFolder(address, str(root.resolve()), fsspec.filesystem("file"), is_local=True)
        files, root_name = fsspec.core.url_to_fs(address)
    except ImportError as fault:
        raise WorkspaceError(
            f"The shared folder {address} cannot be reached: {fault}", "Install that package beside speedworth, or use a folder."
        ) from fault
    except Exception as fault:
        raise WorkspaceError(
            f"The shared folder {address} cannot be reached: {fault}.", "Write a path, or a URL such as s3://bucket/folder."
        ) from fault
    return SharedFolder(address, str(root_name), files, is_local=False)
