"""How a foreign file is read: its drafted mapping as a form, what would be read through it, and the way of it into the inbox."""

from __future__ import annotations

import re
import threading
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from pipelines.desk.dropped import Drop, DroppedFile, drop_of
from pipelines.desk.handing import FORM_ID
from pipelines.desk.keys import HandIn
from pipelines.desk.mapping_choices import (
    DECIMALS,
    MISSING,
    ORDERS,
    Choices,
    choices_of,
    column_rows,
    first_choices,
    made_rows,
    quantity_of,
)
from pipelines.desk.mapping_preview import preview_of
from pipelines.stages.intake import HandedMapping, Readings, draft_mappings, handed_text, is_handed_mapping, read_through
from pipelines.stages.intake.discover import is_one_table, one_file
from pipelines.stages.intake.draft import Hints
from pipelines.stages.intake.handed import ENDING
from pipelines.stages.intake.handed_mappings import (
    WELL_READ,
    WORD,
    arrival_of,
    can_name_a_mapping,
    digest_of,
    text_in_place,
)
from pipelines.stages.intake.mapping import parsed_mapping
from pipelines.stages.intake.reading import delivery_id
from pipelines.stages.intake.taking_back import is_handed_withdrawal
from reports.findings.drafts import column_name, kind_name
from schemas.errors import IntakeError, SettingsError
from schemas.files import KINDS

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.visit import Visit
    from pipelines.stages.intake import DraftedMapping, ReadThrough
    from pipelines.stages.intake.discover import Arrival
    from pipelines.stages.intake.mapping import Mapping

_FILE_ID = re.compile(r"[0-9a-f]{64}")
_UNREADABLE = frozenset(
    {
        "needs_confirming", "waits_for_others", "waits_for_others_unkept", "empty_file", "not_readable", "no_permission",
        "a_link", "not_a_file", "too_large", "packed_too_tightly", "unsafe_entry", "too_deep", "took_too_long", "unknown_format",
    }
)  # fmt: skip
"""Reasons for which a file is held that no mapping mends."""
_MOST_COLUMNS = 250
_ONE_AT_A_TIME = threading.Lock()
"""Reading a whole file is heavy: whoever else asks for it waits, and everybody else is answered meanwhile."""


def can_be_corrected(row: dict[str, Any]) -> bool:
    """Whether a mapping may change how this file is read: it is held for how it is written, or was read through one."""
    if not row["kept_as"] or row["redacted"] or is_handed_mapping(row["name"]) or is_handed_withdrawal(row["name"]):
        return False
    return can_be_read_otherwise(row["status"], row["reason"], row["mapping"])


def can_be_read_otherwise(status: str, reason: str, mapping: str) -> bool:
    """Whether a mapping mends what becomes of a file, or was used to read it."""
    is_held = status == "held" and reason not in _UNREADABLE
    return is_held or (status == "loaded" and bool(mapping))


def was_handed_in(visit: Visit, file_id: str, what: str = WORD) -> bool:
    """Whether a mapping for this file (or something else) waits for the next intake."""
    since = visit.view.written_at
    return any(item.kind == what and item.about == file_id and item.at > since for item in visit.lately(10))


@dataclass(frozen=True)
class _Asked:
    """The file that a page is about.

    Attributes
    ----------
    row : dict
        What the view says of it; of a file that was dropped, what is known of it.
    name : str
        Name of the mapping.
    arrival : Arrival
    stood : bytes or None
        The text that has that name now.
    drop : Drop or None
        With what the file was dropped, when it is not accepted yet.
    file : DroppedFile or None
    """

    row: dict[str, Any]
    name: str
    arrival: Arrival
    stood: bytes | None
    drop: Drop | None = None
    file: DroppedFile | None = None

    @property
    def file_name(self) -> str:
        """What the file was called."""
        return self.arrival.name.rpartition("/")[2]

    @property
    def stood_digest(self) -> str:
        """By which that text is known; empty when there is none."""
        return digest_of(self.stood) if self.stood is not None else ""


@dataclass
class _Shown:
    """What the page shows: the draft by the choices, and what it would read."""

    choices: Choices
    drafts: tuple[DraftedMapping, ...] = ()
    draft: DraftedMapping | None = None
    read: ReadThrough | None = None
    fault: str = ""
    looked_up: bool = True


def mapping_page(visit: Visit) -> Response:
    """The draft as a form, and what it would read."""
    asked = _asked(visit)
    if asked is None:
        return visit.refused(404, "desk.mapping.gone")
    with _ONE_AT_A_TIME:
        shown = _drafted(visit, asked, begins=True)
    return _page(visit, asked, shown)


def correct(visit: Visit) -> Response:
    """The draft by what was chosen; handed in when that is asked for and nothing speaks against it."""
    asked = _asked(visit)
    if asked is None:
        return visit.refused(404, "desk.mapping.gone")
    if not FORM_ID.fullmatch(visit.field("form_id")):
        return visit.refused(422, "desk.form_unknown")
    with _ONE_AT_A_TIME:
        shown = _drafted(visit, asked, begins=False)
    name_fault = _name_fault(visit, visit.field("name"))
    if name_fault:
        shown.choices.errors["name"] = name_fault
    if visit.field("do") != "hand_in":
        return _page(visit, asked, shown)
    if not shown.fault:
        shown.fault = _against(visit, shown) or _would_replace(visit, asked)
    if shown.fault or shown.choices.errors or shown.draft is None:
        return _page(visit, asked, shown, status=422)
    return _hand_in(visit, asked, shown.draft)


def _would_replace(visit: Visit, asked: _Asked) -> str:
    """That another mapping would be replaced than the page spoke of; empty when it is the same, or none."""
    same = asked.stood_digest == visit.field("stood")
    return "" if same else visit.words("desk.mapping.other_there", name=asked.name)


def _hand_in(visit: Visit, asked: _Asked, draft: DraftedMapping) -> Response:
    if asked.drop is not None and asked.file is not None:
        return _keep(visit, asked, asked.drop, asked.file, draft)
    text = handed_text(HandedMapping(asked.name, asked.row["file_id"], asked.stood_digest, draft.text))
    visit.desk.tray.lay(visit.me, visit.field("form_id"), HandIn(WORD, asked.row["file_id"], ENDING, visit.desk.clock()), text)
    return visit.go("/drop?done=corrected")


def _keep(visit: Visit, asked: _Asked, drop: Drop, file: DroppedFile, draft: DraftedMapping) -> Response:
    """Keep the mapping with what was dropped, for this file and for those like it beside it."""
    stood = text_in_place(visit.desk.workspace.mappings, asked.name)
    readings = Readings.of(visit.desk.workspace.mappings, visit.desk.academy)
    file_id = delivery_id(asked.arrival, asked.arrival.path.read_bytes(), readings)
    handed = HandedMapping(asked.name, file_id, digest_of(stood) if stood is not None else "", draft.text)
    drop.correct([file, *_alike(visit, asked, drop, file, draft)], handed, visit.desk.clock())
    return visit.go(f"/drop?drop={drop.drop_id}&done=kept")


def _alike(visit: Visit, asked: _Asked, drop: Drop, file: DroppedFile, draft: DraftedMapping) -> list[DroppedFile]:
    """Other files of the drop that nobody has said anything of, with the same columns."""
    found = []
    for other in drop.files():
        is_meant = other.path != file.path and other.mapping == file.mapping and other.mapping != asked.name
        if is_meant and other.path.suffix == file.path.suffix and _header(other, draft) == draft.header:
            read = _read(visit, one_file(other.path, asked.name), {asked.name: draft.text})[0].found.files[0]
            found += [other] if read.reason in WELL_READ else []
    return found


def _header(file: DroppedFile, draft: DraftedMapping) -> tuple[str, ...]:
    try:
        return draft_mappings(file.path, Hints(draft.kind, sheet=draft.sheet))[0].header
    except IntakeError:
        return ()


def _asked(visit: Visit) -> _Asked | None:
    """The file that the address names, when it is one whose reading can be corrected."""
    if "drop_id" in visit.request.path_params:
        return _asked_of_drop(visit)
    file_id = visit.request.path_params["file_id"]
    rows = visit.view.rows["files"] if _FILE_ID.fullmatch(file_id) else []
    row = next((row for row in rows if row["file_id"] == file_id), None)
    if row is None or not can_be_corrected(row):
        return None
    name = _name(visit, row["mapping"] or _proposed_name(row["name"]))
    known = {**row, "modified_at": datetime.fromisoformat(row["modified_at"]).astimezone(UTC).replace(tzinfo=None)}
    arrival = arrival_of(visit.desk.workspace.root, known, name)
    return None if arrival is None else _Asked(row, name, arrival, text_in_place(visit.desk.workspace.mappings, name))


def _asked_of_drop(visit: Visit) -> _Asked | None:
    """The same of a file that was dropped and is not accepted yet."""
    drop = drop_of(visit.desk.workspace, visit.request.path_params["drop_id"])
    file = drop.file(visit.request.path_params["key"]) if drop is not None else None
    if drop is None or file is None:
        return None
    name = _name(visit, file.mapping or _proposed_name(file.path.name))
    arrival, texts = one_file(file.path, name), drop.texts()
    if not is_one_table(arrival):
        return None
    stood = texts[name].encode() if name in texts else text_in_place(visit.desk.workspace.mappings, name)
    return _Asked({"status": "dropped", "reason": "", "mapping": file.mapping}, name, arrival, stood, drop, file)


def _name(visit: Visit, proposed: str) -> str:
    """The mapping's name as it was written, when it can be one."""
    posted = visit.field("name")
    return posted if posted and not _name_fault(visit, posted) else proposed


def _proposed_name(file_name: str) -> str:
    """A name for a new mapping: the letters with which the file's own name begins."""
    found = re.match(r"[^\W\d_]+(?:[ -][^\W\d_]+)*", file_name.rpartition("/")[2])
    return found[0].lower()[:40] if found and found[0].lower() != "names" else "export"


def _name_fault(visit: Visit, name: str) -> str:
    return "" if can_name_a_mapping(name) else visit.words("desk.mapping.name_unfit")


def _mapping_there(asked: _Asked) -> Mapping | None:
    """The mapping of that name, when there is one that can be used."""
    if asked.stood is None:
        return None
    try:
        return parsed_mapping(asked.name, asked.stood.decode("utf-8-sig"))
    except (SettingsError, UnicodeDecodeError):
        return None


def _drafted(visit: Visit, asked: _Asked, *, begins: bool) -> _Shown:
    """The draft by the choices of the form; where the page begins, or another kind or sheet is chosen, by the file alone."""
    there = _mapping_there(asked) if begins else None
    kind = there.kind if there is not None else visit.field("kind")
    shown = _Shown(Choices(Hints(kind if kind in KINDS else "")))
    try:
        shown.drafts = draft_mappings(asked.arrival.path, shown.choices.hints, asked.file_name)
        sheet = there.sheet if there is not None else visit.field("sheet")
        base = next((draft for draft in shown.drafts if draft.sheet == sheet), shown.drafts[0])
        if len(base.header) > _MOST_COLUMNS:
            shown.fault = visit.words("desk.mapping.too_wide", most=_MOST_COLUMNS)
            return shown
        stays = (visit.field("was_kind"), visit.field("was_sheet")) == (base.kind, base.sheet)
        shown.choices = choices_of(visit, base) if stays else first_choices(base, there)
        hints = shown.choices.hints
        shown.draft = draft_mappings(asked.arrival.path, hints, asked.file_name)[0] if hints.roles else base
    except IntakeError as fault:
        shown.fault = visit.words("desk.mapping.not_drafted", what=fault.what)
        return shown
    shown.read, shown.looked_up = _read(visit, asked.arrival, {asked.name: shown.draft.text})
    return shown


def _read(visit: Visit, arrival: Arrival, texts: dict[str, str]) -> tuple[ReadThrough, bool]:
    """What would be read, and whether players and sessions could be looked up."""
    with visit.desk.readings(texts) as readings:
        return read_through(arrival, readings, visit.desk.clock()), readings.con is not None


def _against(visit: Visit, shown: _Shown) -> str:
    """What speaks against handing the draft in; empty when nothing does."""
    if shown.draft is None or shown.read is None:
        return visit.words("desk.mapping.no_kind")
    missing = [column.target for column in shown.draft.columns if column.template == MISSING]
    for target in missing:
        shown.choices.errors.setdefault(f"value-{target}", visit.words("desk.mapping.value_missing"))
    if missing:
        return visit.words(
            "desk.mapping.missing", names=visit.words.listing([column_name(name, visit.words) for name in missing])
        )
    if shown.choices.errors:
        return visit.words("desk.mapping.has_errors")
    reason = shown.read.found.files[0].reason
    if reason in WELL_READ:
        return ""
    return visit.words("desk.mapping.would_be_held", reason=visit.words.either(f"rule.{reason}", reason.replace("_", " ")))


def _page(visit: Visit, asked: _Asked, shown: _Shown, status: int = 200) -> Response:
    words, draft = visit.words, shown.draft
    if shown.choices.errors and not shown.fault:
        shown.fault = words("desk.mapping.has_errors")
    columns = column_rows(visit, draft, shown.choices, shown.read.found if shown.read else None) if draft else []
    return visit.page(
        "mapping",
        words("desk.mapping.title", file=asked.file_name),
        status,
        wide=True,
        row=asked.row,
        drop_id=asked.drop.drop_id if asked.drop is not None else "",
        reason=words.either(f"rule.{asked.row['reason']}", asked.row["reason"].replace("_", " ")),
        n_unsure=sum(not row["sure"] for row in columns),
        mapping_name=visit.field("name") or asked.name,
        stood=asked.stood_digest,
        draft=draft,
        fault=shown.fault,
        errors=shown.choices.errors,
        columns=columns,
        made=made_rows(visit, draft, shown.choices) if draft else [],
        kinds=[(kind, kind_name(kind, words)) for kind in KINDS],
        kind=draft.kind if draft else visit.field("kind"),
        sheets=[each.sheet for each in shown.drafts if each.sheet],
        sheet_options=[(each.sheet, each.sheet) for each in shown.drafts],
        order_options=[(order, words(f"desk.mapping.order_{order}")) for order in ORDERS],
        decimal_options=[(sign, words(f"desk.mapping.decimal_{name}")) for sign, name in DECIMALS.items()],
        session_options=[(kind, words(f"session_kind.{kind}")) for kind in _session_kinds()],
        hints=shown.choices.hints,
        preview=preview_of(visit, shown.read) if shown.read else None,
        looked_up=shown.looked_up,
    )


def _session_kinds() -> tuple[str, ...]:
    found = quantity_of("sessions", "kind")
    return found.allowed if found is not None else ()
