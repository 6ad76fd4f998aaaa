"""The data person's desk: files are dropped, read at once as ``check`` would read them, and accepted or undone."""

from __future__ import annotations

import hashlib
import os
import shutil
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.datastructures import UploadFile

from pipelines.desk.dropped import Drop, drop_of, new_drop, open_drops, safe_name
from pipelines.desk.handing import FORM_ID
from pipelines.desk.keys import HandIn
from pipelines.desk.mapping_preview import outcome_text
from pipelines.desk.mappings import can_be_corrected, can_be_read_otherwise, was_handed_in
from pipelines.stages.intake import Readings, check_file, handed_text, taking_back
from pipelines.stages.intake.handed import ENDING
from pipelines.stages.intake.handed_mappings import WORD, digest_of, text_in_place
from reports.findings.problems import problem_text

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.dropped import DroppedFile
    from pipelines.desk.visit import Visit
    from pipelines.stages.intake import HandedMapping, Inspection

_MOST_PROBLEMS, _MOST_LISTED = 12, 50


@dataclass(frozen=True)
class Read:
    """What ``check`` says of one dropped file.

    Attributes
    ----------
    file : DroppedFile
    found : Inspection
    corrected : bool
        It is read through a mapping that was made for it here.
    """

    file: DroppedFile
    found: Inspection
    corrected: bool

    @property
    def name(self) -> str:
        """What the file is called."""
        return self.file.path.name

    @property
    def corrects(self) -> bool:
        """Whether a mapping may change how it is read."""
        outcome = self.found.files[0] if len(self.found.files) == 1 else None
        return outcome is not None and can_be_read_otherwise(outcome.status, outcome.reason, self.file.mapping)

    @property
    def problems(self) -> list[dict[str, Any]]:
        """The first problems, errors before doubts."""
        order = {"held": 0, "error": 1}
        rows = self.found.problems.to_dicts()
        return sorted(rows, key=lambda row: (order.get(row["severity"], 2), row["line"] or 0))[:_MOST_PROBLEMS]

    @property
    def n_replaced(self) -> int:
        """Older sessions, days or rows that it would replace."""
        return int(self.found.replaced["by_this"].sum()) if self.found.replaced.height else 0

    @property
    def n_behind(self) -> int:
        """Those of its own that are there in a newer version."""
        return self.found.replaced.height - self.n_replaced

    @property
    def n_problems(self) -> int:
        """All of them."""
        return self.found.problems.height


def mapping_names(visit: Visit) -> list[str]:
    """Mappings of the workspace."""
    return sorted(path.stem for path in visit.desk.workspace.mappings.glob("*.toml"))


def _drop(visit: Visit) -> Drop | None:
    """The drop that a form or an address names; None when there is none."""
    return drop_of(visit.desk.workspace, visit.field("drop_id") or visit.request.query_params.get("drop", ""))


def waiting_names(visit: Visit) -> list[str]:
    """Files in the inbox that the next intake takes in, without what players and staff handed in by form."""
    inbox = visit.desk.workspace.inbox
    found = (path for path in inbox.rglob("*") if path.is_file() and not path.name.startswith("."))
    return sorted(str(path.relative_to(inbox)) for path in found if "_desk-" not in path.name)


def drop_page(visit: Visit) -> Response:
    """Where files are dropped; what the last drop said; what waits, and why."""
    others = open_drops(visit.desk.workspace, visit.desk.clock())
    drop = _drop(visit)
    read, looked_up = _read_all(visit, drop) if drop is not None else ([], True)
    files = visit.view.rows["files"]
    return visit.page(
        "drop",
        visit.words("desk.drop.title"),
        read=read,
        told=lambda part, row: problem_text(part, row["rule"], row["value" if part == "found" else part], visit.words).marked(
            visit.words.language
        ),
        outcome_text=lambda outcome: outcome_text(visit.words, outcome),
        drop_id=drop.drop_id if drop is not None else "",
        until=visit.moment(drop.until) if drop is not None else "",
        others=[_other(visit, other) for other in others if drop is None or other.drop_id != drop.drop_id],
        looked_up=looked_up,
        mappings=mapping_names(visit),
        waiting=waiting_names(visit)[:100],
        held=[_held(visit, row) for row in files if row["status"] == "held"],
        mapped=[row for row in files if row["status"] == "loaded" and can_be_corrected(row)][:20],
        taken=[_taken(visit, row) for row in files if can_be_taken_back(row)][:_MOST_LISTED],
        done=visit.request.query_params.get("done", ""),
    )


def _other(visit: Visit, drop: Drop) -> dict[str, str]:
    """A drop that waits to be accepted: its files, and until when it is kept."""
    names = [file.path.name for file in drop.files()]
    return {"drop_id": drop.drop_id, "names": visit.words.listing(names), "until": visit.moment(drop.until)}


def can_be_taken_back(row: dict[str, Any]) -> bool:
    """Whether somebody dropped this file and its rows are there: what people hand in by form is theirs."""
    return row["status"] in {"loaded", "superseded"} and bool(row["kept_as"]) and "_desk-" not in row["name"]


def _taken(visit: Visit, row: dict[str, Any]) -> dict[str, Any]:
    """A file that was taken in, and whether it is on its way back."""
    day = visit.words.short_day(datetime.fromisoformat(row["received_at"]).date())
    called = visit.words("desk.drop.taken_on", name=row["name"], day=day)
    return {"file_id": row["file_id"], "called": called, "goes_back": was_handed_in(visit, row["file_id"], taking_back.WORD)}


def withdraw(visit: Visit) -> Response:
    """Hand in that a file is to be taken back; the next intake does it."""
    form_id, file_id = visit.field("form_id"), visit.field("file_id")
    if not FORM_ID.fullmatch(form_id):
        return visit.refused(422, "desk.form_unknown")
    if not any(row["file_id"] == file_id and can_be_taken_back(row) for row in visit.view.rows["files"]):
        return visit.refused(404, "desk.drop.gone")
    wish = HandIn(taking_back.WORD, file_id, ENDING, visit.desk.clock())
    visit.desk.tray.lay(visit.me, form_id, wish, taking_back.withdrawal_text(file_id))
    return visit.go("/drop?done=taken_back")


def _held(visit: Visit, row: dict[str, Any]) -> dict[str, Any]:
    """A file that is held, why, and where its reading can be corrected."""
    reason = visit.words.either(f"rule.{row['reason']}", row["reason"].replace("_", " "))
    return {**row, "reason": reason, "corrects": can_be_corrected(row), "waits": was_handed_in(visit, row["file_id"])}


def _read_all(visit: Visit, drop: Drop) -> tuple[list[Read], bool]:
    """What ``check`` says of each file, and whether players and sessions could be looked up."""
    desk, texts = visit.desk, drop.texts()
    with desk.readings(texts) as readings:
        read = [
            Read(file, check_file(file.path, readings, desk.clock(), file.mapping), file.mapping in texts)
            for file in drop.files()
        ]
        return read, readings.con is not None


def drop(visit: Visit) -> Response:
    """Keep what was dropped beside the inbox, and say what would happen to it."""
    form_id, mapping = visit.field("form_id"), visit.field("mapping")
    if not FORM_ID.fullmatch(form_id) or (mapping and mapping not in mapping_names(visit)):
        return visit.refused(422, "desk.form_unknown")
    uploads = [item for item in visit.form.getlist("files") if isinstance(item, UploadFile)] if visit.form is not None else []
    uploads = [item for item in uploads if item.filename and safe_name(item.filename)]
    if not uploads:
        return visit.refused(422, "desk.drop.nothing")
    kept = new_drop(visit.desk.workspace, form_id, visit.desk.clock())
    if kept is None:
        return visit.refused(409, "desk.drop.full")
    laid: set[Path] = set()
    for item in uploads:  # folders may hold files of one name each
        path = _apart(kept.add(item.filename or "", mapping), laid)
        _keep(item, path)
        laid.add(path)
    kept.touch(visit.desk.clock())
    return visit.go(f"/drop?drop={form_id}")


def _apart(path: Path, laid: set[Path]) -> Path:
    """The place, or one beside it that no other file of the same drop has."""
    beside = (path.with_name(f"{path.stem} ({n}){path.suffix}") for n in count(2))
    return path if path not in laid else next(place for place in beside if place not in laid)


def _keep(item: UploadFile, path: Path) -> None:
    with path.open("wb") as file:
        shutil.copyfileobj(item.file, file)
        file.flush()
        os.fsync(file.fileno())


def accept(visit: Visit) -> Response:
    """Lay what is ticked into the inbox, files before the mappings that were made for them; the next intake takes them in.

    What is not ticked stays, to be corrected, accepted later or undone.
    """
    drop = _drop(visit)
    if drop is None:
        return visit.refused(404, "desk.drop.gone")
    ticked = {str(key) for key in visit.form.getlist("take")} if visit.form is not None else set()
    files = drop.files()  # none: they were laid before, and the mappings that were made for them were not
    chosen = [file for file in files if file.key in ticked]
    if files and not chosen:
        return visit.refused(422, "desk.drop.none_ticked")
    meant = {file.mapping for file in chosen}
    handed_in = [handed for name, handed in drop.corrections().items() if name in meant or not files]
    changed = next((handed.mapping for handed in handed_in if _was_changed(visit, handed)), "")
    if changed:
        return visit.refused(409, "desk.drop.mapping_changed", name=changed)
    if len(chosen) == len(files):
        _lay(visit, drop)
        return visit.go("/drop?done=accepted")
    readings = Readings.of(visit.desk.workspace.mappings, visit.desk.academy)
    _lay(visit, drop.part(chosen, readings, visit.desk.clock()))
    return visit.go(f"/drop?drop={drop.drop_id}&done=accepted_some")


def _lay(visit: Visit, drop: Drop) -> None:
    """Lay all of a drop into the inbox, and take it away."""
    desk = visit.desk
    for file in drop.files():
        about = drop.lay(file, desk.workspace.inbox)
        desk.keys.record(visit.me, f"{drop.drop_id} {about}", HandIn("file", about, about, desk.clock()), "")
    for name, handed in drop.corrections().items():
        form_id = hashlib.sha256(f"{drop.drop_id}|{name}".encode()).hexdigest()[:32]
        desk.tray.lay(visit.me, form_id, HandIn(WORD, handed.file_id, ENDING, desk.clock()), handed_text(handed))
    drop.forget()


def _was_changed(visit: Visit, handed: HandedMapping) -> bool:
    """Whether the mapping that a correction takes the place of is another by now."""
    stood = text_in_place(visit.desk.workspace.mappings, handed.mapping)
    return stood is not None and digest_of(stood) not in {handed.before, digest_of(handed.text.encode())}


def undo(visit: Visit) -> Response:
    """Take back a drop that was not accepted yet, or a file that still waits in the inbox."""
    drop, name = _drop(visit), visit.field("waiting")
    if drop is not None:
        drop.forget()
        return visit.go("/drop?done=undone")
    if name not in waiting_names(visit):
        return visit.refused(404, "desk.drop.gone")
    aside = visit.desk.workspace.desk / "undone" / f"{visit.desk.clock():%Y%m%dT%H%M%S}"
    aside.mkdir(mode=0o700, parents=True, exist_ok=True)
    (visit.desk.workspace.inbox / name).replace(aside / Path(name).name)
    return visit.go("/drop?done=undone")
