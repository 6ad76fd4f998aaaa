"""The data person's desk: files are dropped, read at once as ``check`` would read them, and accepted or undone."""

from __future__ import annotations

import os
import re
import shutil
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.datastructures import UploadFile

from pipelines.desk.handing import FORM_ID, lay_in_inbox
from pipelines.desk.keys import HandIn
from pipelines.desk.mappings import can_be_corrected, was_handed_in
from pipelines.stages.intake import check_file
from pipelines.stages.intake.disk import sync_folder
from reports.findings.problems import problem_text
from schemas.errors import NotFoundError, WarehouseBusyError
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    import duckdb
    from starlette.responses import Response

    from pipelines.desk.visit import Visit
    from pipelines.stages.intake import Inspection

_NAME = re.compile(r"[^\w. ()+-]", re.ASCII)
_MOST_PROBLEMS = 12
_LONGEST_NAME = 120


@dataclass(frozen=True)
class Read:
    """What ``check`` says of one dropped file."""

    name: str
    mapping: str
    found: Inspection

    @property
    def problems(self) -> list[dict[str, Any]]:
        """The first problems, errors before doubts."""
        order = {"held": 0, "error": 1}
        rows = self.found.problems.to_dicts()
        return sorted(rows, key=lambda row: (order.get(row["severity"], 2), row["line"] or 0))[:_MOST_PROBLEMS]

    @property
    def n_problems(self) -> int:
        """All of them."""
        return self.found.problems.height


def safe_name(name: str) -> str:
    """The last step of a file's name, without what no name of ours holds; empty when nothing is left."""
    last = name.replace("\\", "/").rpartition("/")[2]
    return _NAME.sub("_", last).lstrip(". ")[-_LONGEST_NAME:]


def mapping_names(visit: Visit) -> list[str]:
    """Mappings of the workspace."""
    return sorted(path.stem for path in visit.desk.workspace.mappings.glob("*.toml"))


def _dropped(visit: Visit) -> Path:
    return visit.desk.workspace.desk / "dropped"


def _folder(visit: Visit) -> Path | None:
    """The folder of the drop that a form names; None when there is none."""
    drop_id = visit.field("drop_id") or visit.request.query_params.get("drop", "")
    folder = _dropped(visit) / drop_id
    return folder if FORM_ID.fullmatch(drop_id) and folder.is_dir() else None


def waiting_names(visit: Visit) -> list[str]:
    """Files in the inbox that the next intake takes in, without what players and staff handed in by form."""
    inbox = visit.desk.workspace.inbox
    found = (path for path in inbox.rglob("*") if path.is_file() and not path.name.startswith("."))
    return sorted(str(path.relative_to(inbox)) for path in found if "_desk-" not in path.name)


def drop_page(visit: Visit) -> Response:
    """Where files are dropped; what the last drop said; what waits, and why."""
    folder = _folder(visit)
    read, looked_up = _read_all(visit, folder) if folder is not None else ([], True)
    files = visit.view.rows["files"]
    return visit.page(
        "drop",
        visit.words("desk.drop.title"),
        read=read,
        told=lambda part, row: problem_text(part, row["rule"], row["value" if part == "found" else part], visit.words).marked(
            visit.words.language
        ),
        drop_id=folder.name if folder is not None else "",
        looked_up=looked_up,
        mappings=mapping_names(visit),
        waiting=waiting_names(visit)[:100],
        held=[_held(visit, row) for row in files if row["status"] == "held"],
        mapped=[row for row in files if row["status"] == "loaded" and can_be_corrected(row)][:20],
        done=visit.request.query_params.get("done", ""),
    )


def _held(visit: Visit, row: dict[str, Any]) -> dict[str, Any]:
    """A file that is held, why, and where its reading can be corrected."""
    reason = visit.words.either(f"rule.{row['reason']}", row["reason"].replace("_", " "))
    return {**row, "reason": reason, "corrects": can_be_corrected(row), "waits": was_handed_in(visit, row["file_id"])}


def _read_all(visit: Visit, folder: Path) -> tuple[list[Read], bool]:
    """What ``check`` says of each file, and whether players and sessions could be looked up."""
    desk = visit.desk
    with ExitStack() as stack:
        con: duckdb.DuckDBPyConnection | None = None
        try:
            con = stack.enter_context(open_warehouse(desk.workspace.warehouse, read_only=True))
        except (WarehouseBusyError, NotFoundError):
            con = None  # a night is running, or none has been yet
        read = []
        for path in sorted(path for path in folder.rglob("*") if path.is_file()):
            mapping = path.parent.name if path.parent != folder else ""
            found = check_file(
                path, desk.workspace.mappings, con, desk.academy.time_zone, desk.clock(), mapping, desk.academy.wind_height_m
            )
            read.append(Read(path.name, mapping, found))
    return read, con is not None


def drop(visit: Visit) -> Response:
    """Keep what was dropped beside the inbox, and say what would happen to it."""
    form_id, mapping = visit.field("form_id"), visit.field("mapping")
    if not FORM_ID.fullmatch(form_id) or (mapping and mapping not in mapping_names(visit)):
        return visit.refused(422, "desk.form_unknown")
    uploads = [item for item in visit.form.getlist("files") if isinstance(item, UploadFile)] if visit.form is not None else []
    uploads = [item for item in uploads if item.filename and safe_name(item.filename)]
    if not uploads:
        return visit.refused(422, "desk.drop.nothing")
    folder = _dropped(visit) / form_id / mapping
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for item in uploads:
        _keep(item, folder / safe_name(item.filename or ""))
    return visit.go(f"/drop?drop={form_id}")


def _keep(item: UploadFile, path: Path) -> None:
    with path.open("wb") as file:
        shutil.copyfileobj(item.file, file)
        file.flush()
        os.fsync(file.fileno())


def accept(visit: Visit) -> Response:
    """Lay a drop into the inbox; the next intake takes it in."""
    folder = _folder(visit)
    if folder is None:
        return visit.refused(404, "desk.drop.gone")
    inbox, now = visit.desk.workspace.inbox, visit.desk.clock()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        below = inbox / path.parent.name if path.parent != folder else inbox
        below.mkdir(exist_ok=True)
        sync_folder(inbox)
        target = below / path.name
        if target.exists():
            target = target.with_name(f"{target.stem}_{folder.name[:8]}{target.suffix}")
        lay_in_inbox(path, target)
        about = str(target.relative_to(inbox))
        visit.desk.keys.record(visit.me, f"{folder.name} {about}", HandIn("file", about, about, now), "")
    shutil.rmtree(folder, ignore_errors=True)
    return visit.go("/drop?done=accepted")


def undo(visit: Visit) -> Response:
    """Take back a drop that was not accepted yet, or a file that still waits in the inbox."""
    folder, name = _folder(visit), visit.field("waiting")
    if folder is not None:
        shutil.rmtree(folder, ignore_errors=True)
        return visit.go("/drop?done=undone")
    if name not in waiting_names(visit):
        return visit.refused(404, "desk.drop.gone")
    aside = visit.desk.workspace.desk / "undone" / f"{visit.desk.clock():%Y%m%dT%H%M%S}"
    aside.mkdir(mode=0o700, parents=True, exist_ok=True)
    (visit.desk.workspace.inbox / name).replace(aside / Path(name).name)
    return visit.go("/drop?done=undone")
