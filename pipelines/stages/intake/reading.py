"""Which kind a file is of, and how it is read: in our own form, or through the mapping of its folder."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from difflib import get_close_matches
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.batch import lower_header, native_content, with_required
from pipelines.stages.intake.discover import kind_of
from pipelines.stages.intake.mapped import mapped_cells
from pipelines.stages.intake.mapping import Mapping, parsed_mapping, read_mapping
from pipelines.stages.intake.originals import LIST, MAPPINGS, read_list
from pipelines.stages.intake.other_formats import other_sheets, sheet_names, sheet_rows
from pipelines.stages.intake.people import NAMES_FILE, NOBODY, People, names_in, people_of
from pipelines.stages.intake.table import Cells, Plain, Unread
from schemas.course import DEFAULT_COURSES
from schemas.errors import SettingsError
from schemas.files import KINDS
from warehouse.files import names_and_hands

if TYPE_CHECKING:
    from collections import abc

    import duckdb

    from pipelines.stages.intake.discover import Arrival
    from schemas.academy import Academy
    from schemas.files import FileKind

_OWN_FORM = (
    "A file in our own form lies in inbox/ itself, in no folder: drop it there. For an export of a device draft a mapping with "
    "`speedworth map FILE`."
)
_NO_TABLE, _MOST_ABOVE = ("empty_file", "no_rows", "column_missing"), 20
"""Faults of a workbook that does not begin with its table; so many lines at most are looked through for its header."""


class Readings:
    """What a workspace says of how files are read: its mappings, each read once, and the height of its wind.

    Parameters
    ----------
    folder : Path
    time_zone : str
    con : duckdb connection, optional
    handed : mapping of str to str, optional
        Texts of mappings that stand in place of what lies in the folder.
    wind_height_m : float, optional
        Height at which its wind is measured [m]; None: nobody said so, the wind counts as the same at every height.
    altitude_m : float, optional
        Height of the academy above sea level [m].
    courses : frozenset of str
        Names of the courses of its settings.
    """

    def __init__(
        self,
        folder: Path,
        time_zone: str,
        con: duckdb.DuckDBPyConnection | None = None,
        handed: abc.Mapping[str, str] | None = None,
        wind_height_m: float | None = None,
        altitude_m: float | None = None,
        courses: frozenset[str] = frozenset(),
    ) -> None:
        self.folder = folder
        self.time_zone = time_zone
        self.con = con
        self.handed = handed or {}
        self.wind_height_m = wind_height_m
        self.altitude_m = altitude_m
        self.courses = courses
        self._read: dict[str, Mapping | Unread] = {}

    @classmethod
    def of(
        cls,
        folder: Path,
        academy: Academy,
        con: duckdb.DuckDBPyConnection | None = None,
        handed: abc.Mapping[str, str] | None = None,
    ) -> Readings:
        """What an academy's settings say, and the mappings in ``folder``."""
        courses = frozenset(course.name for course in (*DEFAULT_COURSES, *academy.courses))
        return cls(folder, academy.time_zone, con, handed, academy.wind_height_m, academy.altitude_m, courses)

    @cached_property
    def people(self) -> People:
        """Names and hands of the players, as they are when a mapping first asks: players are taken in before."""
        names = names_in(self.folder / NAMES_FILE)
        return people_of(names, names_and_hands(self.con) if self.con is not None else ())

    def mapping(self, name: str) -> Mapping | Unread:
        """The mapping of that name, or why it cannot be used."""
        if name not in self._read:
            self._read[name] = self._opened(name)
        return self._read[name]

    def digest(self, name: str) -> bytes:
        """What changes when the text of that mapping does, or the names that it asks for; of one that is not there: its name."""
        path = self.folder / f"{name}.toml"
        if name in self.handed:
            text = self.handed[name].encode()
        else:
            text = path.read_bytes() if path.is_file() else name.encode("utf-8", "surrogateescape")
        mapping, names = self.mapping(name), self.folder / NAMES_FILE
        if isinstance(mapping, Mapping) and mapping.needs_people and names.is_file():
            text += names.read_bytes()
        return hashlib.sha256(text).digest()

    def fault(self, name: str) -> Unread | None:
        """Why a mapping cannot be used as it and the list of names are now; None when it can, and for our own form."""
        mapping = self.mapping(name) if name else None
        if isinstance(mapping, Unread):
            return mapping
        if mapping is None or not mapping.needs_people:
            return None
        try:
            names_in(self.folder / NAMES_FILE)  # not the people yet: players of this intake come first
        except SettingsError as fault:
            return Unread("bad_mapping", fault.what)
        return self.lost_names(name)

    def lost_names(self, name: str) -> Unread | None:
        """That the list of names is gone through which files of this mapping were read; None when it is there, or never was."""
        if (self.folder / NAMES_FILE).is_file() or name not in self._names_then:
            return None
        kept = f"archive/{MAPPINGS}/{self._names_then[name]}.toml"
        told = f"mappings/{NAMES_FILE} is gone, and files were read through it"
        return Unread(
            "bad_mapping",
            told,
            hint=f"Copy it back from {kept}; or write it anew with a table [players], empty where nobody needs it.",
        )

    @cached_property
    def _names_then(self) -> dict[str, str]:
        """Mappings to the checksum of the list of names that their newest file was read through."""
        path = self.folder.parent / "archive" / LIST
        listed = read_list(path) if path.is_file() else []
        return {one.ledger["mapping"]: one.texts[NAMES_FILE] for one in listed if NAMES_FILE in one.texts}

    def reading(self, name: str) -> str:
        """What changes when files of that mapping (empty: of our own form) would be read differently: it, or the time zone."""
        text = self.digest(name) if name else b""
        return hashlib.sha256(self.time_zone.encode() + b"\0" + text).hexdigest()[:16]

    def _opened(self, name: str) -> Mapping | Unread:
        path = self.folder / f"{name}.toml"
        if name not in self.handed and not path.is_file():
            return Unread("no_mapping", name)
        try:
            return parsed_mapping(name, self.handed[name]) if name in self.handed else read_mapping(path)
        except SettingsError as fault:
            return Unread("bad_mapping", fault.what, hint=f"{fault.todo} Then drop the file again.")


def delivery_id(arrival: Arrival, data: bytes, readings: Readings) -> str:
    """SHA-256 that names a delivery: of its content, and of its kind or of the mapping that it is read through.

    The same workbook read for another sheet, or through a corrected mapping, is another delivery. A copy of which not all rows
    were kept keeps the name of what was dropped.
    """
    return delivery_ids(arrival, data, readings)[0]


def delivery_ids(arrival: Arrival, data: bytes, readings: Readings) -> tuple[str, str]:
    """The same, and the name that the content alone has: that of a file whose kind was not known."""
    if arrival.is_redacted:
        return arrival.again, ""
    digest = hashlib.sha256(data)
    alone = digest.hexdigest()
    digest.update(readings.digest(arrival.mapping) if arrival.mapping else kind_of(arrival.name).encode())
    return digest.hexdigest(), alone


def kind_for(arrival: Arrival, readings: Readings) -> str | Unread:
    """Kind of a file by its mapping or its name; why not, when it has none."""
    if arrival.fault:
        return Unread(arrival.fault)
    if arrival.mapping:
        mapping = readings.mapping(arrival.mapping)
        if isinstance(mapping, Unread):
            own = mapping.rule == "no_mapping" and kind_of(arrival.name)
            return replace(mapping, hint=_OWN_FORM) if own else mapping
        return mapping.kind
    return kind_of(arrival.name) or Unread("unknown_kind", arrival.name, hint=_near_kind(arrival.name))


def _near_kind(name: str) -> str:
    """What to do about a name that begins nearly as a kind does; empty where it does not."""
    first = re.match(r"[a-z]+", Path(name).name.lower())
    near = get_close_matches(first[0], KINDS, 1, 0.8) if first else []
    return f"Its kind is written {near[0]}: rename it so, then drop the file again." if near else ""


def read_content(kind: FileKind, arrival: Arrival, data: bytes, readings: Readings) -> Plain | Cells | Unread:
    """Split a file into cells under native names; whatever goes wrong with it holds this file, and no other."""
    try:
        content = _content(kind, arrival, data, readings)
    except (Exception, pl.exceptions.PanicException) as fault:  # noqa: BLE001 - one odd file must not stop a night
        content = Unread("not_readable", f"{type(fault).__name__}: {fault}".splitlines()[0][:200])
    if isinstance(content, Unread) and not content.hint and content.rule in _ODD_INSIDE:
        return replace(content, hint=_other_format(arrival.ending, data))
    return content


_ODD_INSIDE = ("not_text", "not_readable", "no_rows", "column_missing")


def _other_format(ending: str, data: bytes) -> str:
    """What to do about a file that is in another format than its ending says; empty where it is not, as far as can be seen."""
    if data.startswith(b"PK\x03\x04") and ending != ".xlsx":
        return "Inside it is a workbook or an archive: end its name with .xlsx or .zip, then drop the file again."
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        return "It is an old workbook, or one with a password: save it as .xlsx without one, then drop the file again."
    if ending in {".csv", ".xlsx"} and data.lstrip()[:1] in {b"[", b"{"}:
        return "Inside it is JSON: end its name with .json, then drop the file again."
    if ending in {".xlsx", ".parquet"} and b"\0" not in data[:1000] and (b"," in data[:1000] or b";" in data[:1000]):
        return "Inside it is plain text: end its name with .csv, then drop the file again."
    return ""


def _with_sheet_hint(kind: FileKind, content: Plain | Cells | Unread, ending: str, data: bytes) -> Plain | Cells | Unread:
    """Of a workbook that does not begin with the table: in which line it does, or which other sheets there are."""
    if not isinstance(content, Unread) or content.hint or content.rule not in _NO_TABLE or ending != ".xlsx":
        return content
    rows = sheet_rows(data)
    line = 0 if isinstance(rows, Unread) else next((at for at, row in enumerate(rows[:_MOST_ABOVE], 1) if _names(kind, row)), 0)
    if line:
        return replace(content, hint=lower_header(line))
    first, *others = sheet_names(data) or [""]
    if not others:
        return content
    named = ", ".join(others[:3])
    return replace(
        content,
        hint=f"Only the first sheet, {first}, was read, and there is {named} too: put the table first, hidden sheets counted.",
    )


def _names(kind: FileKind, row: list[str]) -> bool:
    return {*kind.required} <= {cell.strip().lower() for cell in row}


def _content(kind: FileKind, arrival: Arrival, data: bytes, readings: Readings) -> Plain | Cells | Unread:
    if arrival.is_redacted and arrival.path.suffix != arrival.ending:  # it was written in our own form
        return with_required(kind, native_content(arrival.path.suffix, data))
    if not arrival.mapping:
        content = _with_sheet_hint(kind, with_required(kind, native_content(arrival.ending, data)), arrival.ending, data)
        is_book = arrival.ending == ".xlsx"
        return replace(content, other_sheets=other_sheets(data)) if is_book and isinstance(content, Cells) else content
    mapping = readings.mapping(arrival.mapping)
    if isinstance(mapping, Unread):
        return mapping
    lost = readings.lost_names(arrival.mapping) if mapping.needs_people else None
    if lost is not None:
        return lost
    try:
        people = readings.people if mapping.needs_people else NOBODY
    except SettingsError as fault:
        return Unread("bad_mapping", fault.what, hint=f"{fault.todo} Then drop the file again.")
    return with_required(kind, mapped_cells(mapping, arrival.name, arrival.ending, data, people))
