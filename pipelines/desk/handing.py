"""Handing in: rows become a native file that the intake's own contracts have read, and it is on the disk before anybody is told.

A form has an id of its own. Handing the same form in again writes nothing new, so a phone that has not heard the answer may
send again.
"""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
import secrets
import shutil
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from pipelines.desk.keys import HandIn
from pipelines.stages.intake import Readings, check_file
from pipelines.stages.intake.disk import sync_folder
from schemas.errors import WorkspaceError
from schemas.files import KINDS
from schemas.spreadsheet import cell_text, harmless_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from pipelines.desk.keys import Keys, Session
    from pipelines.workspace import Workspace

_CAREFULLY = sum(getattr(os, name, 0) for name in ("O_NOFOLLOW", "O_CLOEXEC", "O_BINARY"))
FORM_ID = re.compile(r"[0-9a-f]{32}")


def new_form_id() -> str:
    """An id for one form."""
    return secrets.token_hex(16)


def _next_id(form_id: str) -> str:
    """The id under which the same form is noted when it comes with other answers than the last time."""
    return hashlib.sha256(f"{form_id}|next".encode()).hexdigest()[:32]


class RefusedError(Exception):
    """The contracts do not take it.

    Parameters
    ----------
    problems : list of dict
        ``column``, ``rule``, ``allowed`` and ``hint`` of each, as the intake writes them.
    """

    def __init__(self, problems: list[dict[str, Any]]) -> None:
        super().__init__("; ".join(f"{row['column']}: {row['allowed']}. {row['hint']}" for row in problems))
        self.problems = problems


@dataclass(frozen=True)
class Paper:
    """What is handed in.

    Attributes
    ----------
    kind : str
        Kind of file.
    rows : sequence of dict
        Column to value.
    about : str
        The day, week, session or finding; shown as handed in until the next intake.
    """

    kind: str
    rows: Sequence[dict[str, Any]]
    about: str


def native_text(kind: str, rows: Sequence[dict[str, Any]]) -> str:
    """Rows as the text of a native file of that kind; of kinds that keep absent columns, only the columns that the rows have."""
    text = io.StringIO()
    whole, had = KINDS[kind].fills != "absent columns", {name for row in rows for name in row}
    names = [name for name in KINDS[kind].names if whole or name in had]
    writer = csv.DictWriter(text, names, lineterminator="\n", extrasaction="raise")
    writer.writeheader()
    writer.writerows({name: harmless_text(cell_text(value)) for name, value in row.items()} for row in rows)
    return text.getvalue()


def _write_through(path: Path, data: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _CAREFULLY, 0o600)
    with open(handle, "wb", closefd=True) as file:  # noqa: PTH123 - from a handle that was opened without following links
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def lay_in_inbox(part: Path, target: Path) -> None:
    """Move a file that is whole on the disk into the inbox, and bring its name onto the disk."""
    part.replace(target)
    sync_folder(target.parent)


@dataclass(frozen=True)
class Tray:
    """Where hand-ins go.

    Attributes
    ----------
    workspace : Workspace
    keys : Keys
    time_zone : str
    """

    workspace: Workspace
    keys: Keys
    time_zone: str

    def hand_in(self, session: Session, form_id: str, paper: Paper, now: datetime) -> HandIn:
        """Write the file into the inbox, or say what it became when this form was handed in before.

        Raises
        ------
        RefusedError
            When the contracts do not take it.
        WorkspaceError
            When the disk does not.
        """
        what = HandIn(paper.kind, paper.about, ".csv", now)
        return self.lay(session, form_id, what, native_text(paper.kind, paper.rows), self._refuse_faults)

    def lay(
        self,
        session: Session,
        form_id: str,
        what: HandIn,
        text: str,
        refuse: Callable[[Path, datetime], None] = lambda _path, _now: None,
    ) -> HandIn:
        """Write a text into the inbox, or say what it became when this form was handed in before.

        The same form with other answers is a correction, not a repetition, and so are the first answers after these.

        Parameters
        ----------
        session : Session
        form_id : str
        what : HandIn
            Its ``file`` is the ending of the name that is made for it.
        text : str
        refuse : callable
            Raises when the file, whole beside the inbox, is not to be taken.

        Raises
        ------
        WorkspaceError
            When the disk does not take it.
        """
        data, now = text.encode(), what.at
        digest = hashlib.sha256(data).hexdigest()
        before = self.keys.handed_in(session.subject, form_id)
        while before is not None and (later := self.keys.handed_in(session.subject, _next_id(form_id))) is not None:
            form_id, before = _next_id(form_id), later
        if before is not None and before[1] == digest:
            return before[0]
        form_id = form_id if before is None else _next_id(form_id)
        done = replace(what, file=f"{what.kind}_{now:%Y-%m-%d}_desk-{form_id}{what.file}")
        try:
            with self.parts(form_id) as folder:
                _write_through(folder / done.file, data)
                refuse(folder / done.file, now)
                lay_in_inbox(folder / done.file, self.workspace.inbox / done.file)
        except OSError as fault:
            raise WorkspaceError(f"The inbox cannot be written: {fault.strerror or fault}.", "Check the disk.") from fault
        self.keys.record(session, form_id, done, digest)
        return done

    def parts(self, form_id: str) -> _Parts:
        """A folder on the inbox's disk, where a file becomes whole before it is laid into the inbox."""
        return _Parts(self.workspace.desk / "parts" / f"{form_id}.{secrets.token_hex(4)}")

    def _refuse_faults(self, path: Path, now: datetime) -> None:
        found = check_file(path, Readings(self.workspace.mappings, self.time_zone), now).problems
        faults = found.filter(found["severity"] != "warning")
        if not faults.is_empty():
            raise RefusedError(faults.head(5).to_dicts())


class _Parts:
    """A folder that is there within the block only."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def __enter__(self) -> Path:
        self._folder.mkdir(mode=0o700, parents=True)
        return self._folder

    def __exit__(self, *_: object) -> None:
        shutil.rmtree(self._folder, ignore_errors=True)
