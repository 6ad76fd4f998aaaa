"""Mappings that are handed in: a file of their own in the inbox, tried on the held file that they are for, and put in place.

So whoever drafts one at the desk writes into the inbox alone. What stood in its place is kept below ``archive/mappings/`` first.
A mapping through which its file would not be read is held like any other file, with the reason.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake import disk
from pipelines.stages.intake.again import AskedAgain
from pipelines.stages.intake.discover import Arrival, is_one_table, stamp_of
from pipelines.stages.intake.handed import HandedIn, is_handed_in
from pipelines.stages.intake.inspect import read_through
from pipelines.stages.intake.lists import list_places
from pipelines.stages.intake.mapping import parsed_mapping
from pipelines.stages.intake.originals import MAPPINGS
from pipelines.stages.intake.people import NAMES_FILE
from pipelines.stages.intake.reading import Readings, delivery_id
from pipelines.stages.intake.table import Unread
from schemas.errors import SettingsError
from warehouse.connection import transaction
from warehouse.deliveries import deliveries
from warehouse.files import forget_file

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path
    from typing import Any

    import duckdb

    from schemas.academy import Academy

WORD = "mapping"
MOST_BYTES = 200_000
_MAPPING_NAME = re.compile(r"\w(?:[\w .()+-]{0,58}[\w)+])?")
"""Names of mappings, and of the folders of the inbox that are read through them: none can be a path."""
WELL_READ = frozenset({"", "waits_for_others", "waits_for_others_unkept", "needs_confirming"})
"""Reasons for which a file may still be held though it was read as it was meant; empty: it is not held."""
_KEYS = ("mapping", "file_id", "before", "text")


@dataclass(frozen=True)
class HandedMapping:
    """A mapping as it is handed in.

    Attributes
    ----------
    mapping : str
        Its name.
    file_id : str
        The delivery that it is for.
    before : str
        SHA-256 of the text that had that name when this one was drafted; empty when there was none.
    text : str
        The mapping.
    """

    mapping: str
    file_id: str
    before: str
    text: str


@dataclass
class PlacedMappings(HandedIn):
    """What became of the mappings that waited.

    Attributes
    ----------
    asked : set of str
        Files that are read again through their own mapping.
    files : list of Arrival
        Files that are read through a mapping of another name than before.
    """

    asked: set[str] = field(default_factory=set)
    files: list[Arrival] = field(default_factory=list)

    def again(self, asked: AskedAgain, tried: set[str]) -> AskedAgain:
        """What somebody wants tried again, and what these mappings are for; without ``tried``, which are mappings themselves."""
        return AskedAgain((asked.file_ids | self.asked) - tried, asked.accepted)


def handed_text(handed: HandedMapping) -> str:
    """The delivery as it lies in the inbox."""
    return json.dumps({key: getattr(handed, key) for key in _KEYS}, ensure_ascii=False, indent=1) + "\n"


def is_handed_mapping(name: str) -> bool:
    """Whether a file of that name below the inbox is a mapping that somebody handed in."""
    return is_handed_in(name, WORD)


def digest_of(text: bytes) -> str:
    """By which a text of a mapping is known."""
    return hashlib.sha256(text).hexdigest()


def can_name_a_mapping(name: str) -> bool:
    """Whether a mapping may have that name: one that is no path, and not that of the list of names."""
    return bool(_MAPPING_NAME.fullmatch(name)) and f"{name}.toml".casefold() != NAMES_FILE


def text_in_place(mappings: Path, name: str) -> bytes | None:
    """The text of the mapping of that name; None when there is none."""
    path = mappings / f"{name}.toml"
    return path.read_bytes() if path.is_file() else None


def _told(data: bytes) -> HandedMapping | Unread:
    """The delivery, when it has the form of one."""
    if len(data) > MOST_BYTES:
        return _refusal("the mapping is too large")
    try:
        raw = json.loads(data)
    except ValueError:
        return _refusal("this is no mapping that was handed in")
    if not isinstance(raw, dict) or set(raw) != set(_KEYS) or not all(isinstance(value, str) for value in raw.values()):
        return _refusal("this is no mapping that was handed in")
    if not can_name_a_mapping(raw["mapping"]):
        return _refusal(f"{raw['mapping'][:80]!r} cannot be the name of a mapping")
    return HandedMapping(**raw)


def _refusal(what: str, hint: str = "") -> Unread:
    return Unread("bad_mapping", what, hint=hint or "Draft it again from the held file, and hand it in again.")


def arrival_of(workspace: Path, row: Mapping[str, Any], mapping: str) -> Arrival | None:
    """A kept file as if it had been dropped into the folder of a mapping; None where it cannot be read that way.

    Parameters
    ----------
    workspace : Path
    row : mapping
        ``file_id``, ``name``, ``mapping``, ``kept_as``, ``redacted`` and ``modified_at`` of the ledger.
    mapping : str
    """
    path = workspace / row["kept_as"]
    if not row["kept_as"] or row["redacted"] or path.is_symlink() or not path.is_file():
        return None
    below = row["name"].split("/", 1)[1] if row["mapping"] and "/" in row["name"] else row["name"]
    found = Arrival(
        path, f"{mapping}/{below}", mapping, row["modified_at"], stamp_of(path.lstat()), again=row["file_id"], kept=True
    )
    return found if is_one_table(found) else None


@dataclass(frozen=True)
class _Place:
    """Where mappings are put in place, and by what they are tried; ``inbox``: files that wait and were not read yet."""

    workspace: Path
    con: duckdb.DuckDBPyConnection
    academy: Academy
    now: datetime
    inbox: Sequence[Arrival] = ()

    @property
    def mappings(self) -> Path:
        return self.workspace / "mappings"

    def held_file(self, handed: HandedMapping) -> dict[str, Any] | None:
        rows = deliveries(self.con).filter(pl.col("file_id") == handed.file_id, pl.col("status").is_in(["held", "loaded"]))
        return rows.row(0, named=True) if rows.height else None

    def waiting_file(self, handed: HandedMapping) -> Arrival | None:
        """The file that was dropped with the mapping: as what it would be known if it were read as things stand."""
        readings = Readings.of(self.mappings, self.academy, self.con)
        for arrival in self.inbox:
            data = disk.content(arrival) if arrival.mapping == handed.mapping and is_one_table(arrival) else ""
            if isinstance(data, bytes) and delivery_id(arrival, data, readings) == handed.file_id:
                return arrival
        return None

    def tried(self, handed: HandedMapping, row: dict[str, Any] | None, waiting: Arrival | None) -> Arrival | Unread:
        """The file read through the mapping, or why the mapping is not put in place."""
        if row is None and waiting is None:
            return _refusal("the file that it is for is not held any more")
        stood = text_in_place(self.mappings, handed.mapping)
        if stood not in (None, handed.text.encode()) and digest_of(stood) != handed.before:
            return _refusal(f"mappings/{handed.mapping}.toml was changed since it was drafted")
        try:
            parsed_mapping(handed.mapping, handed.text)
        except SettingsError as fault:
            return _refusal(fault.what, fault.todo)
        arrival = arrival_of(self.workspace, row, handed.mapping) if row is not None else waiting
        if arrival is None:
            return _refusal("the file that it is for cannot be read through a mapping")
        readings = Readings.of(self.mappings, self.academy, self.con, {handed.mapping: handed.text})
        found = read_through(arrival, readings, self.now).found
        if found.files[0].reason not in WELL_READ:
            told = found.problems.filter(pl.col("severity") == "held").row(0, named=True)
            return _refusal(f"{arrival.name}: {told['rule'].replace('_', ' ')} {told['column']} {told['value']}".strip())
        return arrival

    def put(self, handed: HandedMapping) -> None:
        """Keep what stood there, then put the text in its place; both are on the disk before this returns."""
        stood, kept = text_in_place(self.mappings, handed.mapping), self.workspace / "archive" / MAPPINGS
        if stood == handed.text.encode():
            return
        if stood is not None:
            kept.mkdir(parents=True, exist_ok=True)
            disk.write_durably(kept / f"{digest_of(stood)}.toml", stood)
        self.mappings.mkdir(exist_ok=True)
        disk.write_durably(self.mappings / f"{handed.mapping}.toml", handed.text.encode())


def refused_deliveries(
    workspace: Path, con: duckdb.DuckDBPyConnection, is_meant: Callable[[str], bool] = is_handed_mapping
) -> list[Arrival]:
    """What was handed in beside files and is held, as if it came anew; ``is_meant`` says by its name which of it."""
    rows = deliveries(con).filter(pl.col("status") == "held", pl.col("name").map_elements(is_meant, pl.Boolean))
    paths = [(row, workspace / row["kept_as"]) for row in rows.iter_rows(named=True)]
    return [
        Arrival(path, row["name"], "", row["modified_at"], stamp_of(path.lstat()), again=row["file_id"], kept=True)
        for row, path in paths
        if path.is_file()
    ]


def settle(workspace: Path, con: duckdb.DuckDBPyConnection, delivery: Arrival) -> None:
    """Take away a delivery that is done with: out of the inbox, or out of what is held."""
    if not delivery.kept:
        disk.discard(delivery)
        return
    with transaction(con):
        forget_file(con, None, delivery.again)
    for place in list_places(delivery.again, delivery.name, ""):
        (workspace / place).unlink(missing_ok=True)
    delivery.path.unlink(missing_ok=True)


def place_mappings(
    workspace: Path,
    con: duckdb.DuckDBPyConnection,
    academy: Academy,
    now: datetime,
    waiting: list[Arrival],
    inbox: Sequence[Arrival] = (),
) -> PlacedMappings:
    """Try each mapping that waits on the file that it is for, and put it in place; a later one settles those refused before.

    Parameters
    ----------
    workspace : Path
    con : duckdb connection
    academy : Academy
    now : datetime
    waiting : list of Arrival
        The mappings.
    inbox : sequence of Arrival
        Files that wait: a mapping may be for one of them, which is read after it.
    """
    place, done = _Place(workspace, con, academy, now, inbox), PlacedMappings()
    for delivery, data in done.read(waiting):
        _take_one(place, done, delivery, _told(data))
    return done


def _is_for(delivery: Arrival, file_id: str) -> bool:
    told = _told(delivery.path.read_bytes())
    return isinstance(told, HandedMapping) and told.file_id == file_id


def _take_one(place: _Place, done: PlacedMappings, delivery: Arrival, handed: HandedMapping | Unread) -> None:
    if isinstance(handed, Unread):
        done.refused.append((delivery, handed))
        return
    row = place.held_file(handed)
    if row is None and text_in_place(place.mappings, handed.mapping) == handed.text.encode():
        done.settled.append(delivery)  # it was put in place, and its file read, before the delivery could be taken away
        return
    waiting = place.waiting_file(handed) if row is None else None
    tried = place.tried(handed, row, waiting)
    if isinstance(tried, Unread):
        done.refused.append((delivery, tried))
        return
    place.put(handed)
    before = [one for one in refused_deliveries(place.workspace, place.con) if one.again != delivery.again]
    done.settled += [delivery, *(one for one in before if _is_for(one, handed.file_id))]
    done.fulfilled(delivery, WORD, f"mappings/{handed.mapping}.toml was put in place")
    if row is not None and row["mapping"] == handed.mapping:
        done.asked.add(handed.file_id)
    elif row is not None:
        done.files.append(replace(tried, why="its mapping was handed in"))
