"""Taking in everything that waits: kind by kind, batch by batch, each batch in one transaction."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.stages.audit_log import note
from pipelines.stages.intake import disk
from pipelines.stages.intake.again import NOTHING_ASKED, AskedAgain, bring_back, look_at_again, read_otherwise
from pipelines.stages.intake.batch import Incoming
from pipelines.stages.intake.discover import Arrival, left_alone, utc, waiting_files
from pipelines.stages.intake.handed_mappings import is_handed_mapping, place_mappings, refused_deliveries, settle
from pipelines.stages.intake.load import IntakeContext, load_batch, load_unread
from pipelines.stages.intake.originals import keep_list
from pipelines.stages.intake.overlapping import with_overlaps
from pipelines.stages.intake.packed import unpacked
from pipelines.stages.intake.reading import Readings, delivery_ids, kind_for, read_content
from pipelines.stages.intake.table import Unread
from pipelines.stages.intake.taking_back import is_handed_withdrawal, take_back_handed
from pipelines.workspace import Workspace
from schemas.files import KINDS, FileKind
from schemas.results import FileOutcome, IntakeOutcome
from warehouse.connection import transaction
from warehouse.deliveries import delivered_kinds
from warehouse.files import KnownFile, agreed_since, keep_academy, known_files
from warehouse.problems import close_named, close_problems_of_files

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import datetime

    import duckdb

    from schemas.academy import Academy

    Progress = Callable[[str, int, int], None]

_Delivery = tuple[Arrival, str, bytes]
MOST_FILES_IN_A_BATCH = 500
MOST_BYTES_IN_A_BATCH = 48_000_000


@dataclass
class _Progress:
    told: Progress | None
    total: int
    done: int = 0

    def step(self, what: str, by: int) -> None:
        self.done += by
        self.total = max(self.total, self.done)  # kept files that are read again come on top of what was dropped
        if self.told is not None:
            self.told(what, self.done, self.total)


@dataclass(frozen=True)
class _Waiting:
    """Everything that waits, sorted out.

    Attributes
    ----------
    by_kind : dict
    unread : list
        Files without a kind or that cannot be read, with the reason.
    archives : list
        Opened archives; they are removed when their files have been taken in.
    """

    by_kind: dict[str, list[Arrival]]
    unread: list[tuple[Arrival, Unread]] = field(default_factory=list)
    archives: list[Arrival] = field(default_factory=list)
    later: list[FileOutcome] = field(default_factory=list)


def _not_now(arrival: Arrival, reason: str) -> FileOutcome:
    return FileOutcome(arrival.name, "", "", "waiting", 0, 0, 0, reason=reason)


def _opened(arrival: Arrival, waiting: _Waiting) -> list[Arrival]:
    """An archive as the files in it; anything else as itself."""
    if arrival.fault or arrival.ending not in {".gz", ".zip"}:
        return [arrival]
    data = disk.content(arrival)
    if data in {disk.WAITING, disk.GONE}:
        waiting.later.append(_not_now(arrival, str(data)))
        return []
    inside = Unread(data) if isinstance(data, str) else unpacked(arrival, data)
    if isinstance(inside, Unread):
        waiting.unread.append((arrival, inside))
        return []
    waiting.archives.append(arrival)
    return inside


def _sorted_out(arrivals: list[Arrival], readings: Readings) -> _Waiting:
    waiting = _Waiting({name: [] for name in KINDS})
    for dropped in arrivals:
        for arrival in _opened(dropped, waiting):
            kind = kind_for(arrival, readings)
            if isinstance(kind, Unread):
                waiting.unread.append((arrival, kind))
            else:
                waiting.by_kind[kind].append(arrival)
    return waiting


def _batches(arrivals: list[Arrival]) -> Iterator[list[Arrival]]:
    batch: list[Arrival] = []
    size = 0
    for arrival in arrivals:
        weight = len(arrival.data) if arrival.data is not None else arrival.stamp[2]
        if batch and (len(batch) >= MOST_FILES_IN_A_BATCH or size + weight > MOST_BYTES_IN_A_BATCH):
            yield batch
            batch, size = [], 0
        batch.append(arrival)
        size += weight
    if batch:
        yield batch


def _read(context: IntakeContext, arrivals: list[Arrival]) -> tuple[list[tuple[Arrival, str, bytes]], list[FileOutcome]]:
    """Bytes and content hashes of a batch; what cannot be read is held, what is not finished waits."""
    found: list[tuple[Arrival, str, bytes]] = []
    outcomes: list[FileOutcome] = []
    unread: list[tuple[Arrival, Unread]] = []
    alone: dict[int, str] = {}
    for arrival in arrivals:
        data = disk.content(arrival)
        if isinstance(data, bytes):
            file_id, alone[len(found)] = delivery_ids(arrival, data, context.readings)
            found.append((arrival, file_id, data))
        elif data in {disk.WAITING, disk.GONE}:
            outcomes.append(_not_now(arrival, data))
        else:
            unread.append((arrival, Unread(data)))
    return _by_content_alone(context, found, alone), outcomes + load_unread(context, unread)


def _by_content_alone(
    context: IntakeContext, read: list[tuple[Arrival, str, bytes]], alone: dict[int, str]
) -> list[tuple[Arrival, str, bytes]]:
    """Files that are held because their kind was not known are meant by a file of the same content under another name."""
    known = known_files(context.con, list(alone.values()))
    held = {file_id for file_id, earlier in known.items() if earlier.status == "held"}
    return [
        (replace(arrival, again=alone[at]) if alone[at] in held and not arrival.again else arrival, file_id, data)
        for at, (arrival, file_id, data) in enumerate(read)
    ]


def _new_ones(
    context: IntakeContext, read: list[tuple[Arrival, str, bytes]]
) -> tuple[list[tuple[Arrival, str, bytes]], list[FileOutcome]]:
    """Deliveries that are not loaded, or do not stand any more; the others are only laid where they belong."""
    ids = [file_id for _, file_id, _ in read]
    known = known_files(context.con, ids)
    again = agreed_since(context.con, [file_id for file_id in ids if file_id in known]) if known else set()
    again |= {file_id for file_id, earlier in known.items() if not earlier.stands}
    new: list[tuple[Arrival, str, bytes]] = []
    outcomes: list[FileOutcome] = []
    taken: set[str] = set()
    for arrival, file_id, data in read:
        if file_id in taken or (file_id in known and file_id not in again and not arrival.again):
            place = known[file_id].kept_as if file_id in known else ""
            if place and not (context.workspace / place).exists():
                disk.move_original(arrival, context.workspace / place, data)
            outcomes.append(FileOutcome(arrival.name, "", file_id, "unchanged", 0, 0, 0, note=_already(known.get(file_id))))
            context.settled.append(arrival)
            continue
        taken.add(file_id)
        new.append((replace(arrival, again=file_id) if file_id in again and not arrival.again else arrival, file_id, data))
    return new, outcomes


def _already(earlier: KnownFile | None) -> str:
    """When and as what a delivery was taken in before."""
    if earlier is None:
        return "the same file lies beside it"
    return f"already taken in on {earlier.received_at:%d %B %Y} as {earlier.name}".replace(" on 0", " on ")


def _runs(context: IntakeContext, read: list[_Delivery]) -> Iterator[list[_Delivery]]:
    """Files that can be taken in together: what came before comes again in a run of its own, once others have taken its place."""
    known = known_files(context.con, [file_id for _, file_id, _ in read])
    standing = {file_id for file_id, earlier in known.items() if earlier.stands}
    run: list[_Delivery] = []
    for one in read:
        ids = [file_id for _, file_id, _ in run]
        since = len(ids) - ids[::-1].index(one[1]) if one[1] in ids else 0 if one[1] in standing else len(ids)
        if any(file_id not in standing for file_id in ids[since:]):
            yield run
            run = []
        run.append(one)
    if run:
        yield run


def _take_batch(context: IntakeContext, kind: FileKind, arrivals: list[Arrival]) -> list[FileOutcome]:
    read, outcomes = _read(context, arrivals)
    for run in _runs(context, read):
        outcomes += _take_run(context, kind, run)
    return outcomes


def _take_run(context: IntakeContext, kind: FileKind, read: list[_Delivery]) -> list[FileOutcome]:
    new, unchanged = _new_ones(context, read)
    batch = [
        Incoming(arrival, file_id, data, read_content(kind, arrival, data, context.readings)) for arrival, file_id, data in new
    ]
    loaded = with_overlaps(context.con, load_batch(context, kind, batch)) if batch else []
    for arrival in context.settled:
        disk.discard(arrival)
    context.settled.clear()
    return unchanged + loaded


def take_in(
    workspace: Path,
    con: duckdb.DuckDBPyConnection,
    academy: Academy,
    now: datetime,
    progress: Progress | None = None,
    asked: AskedAgain = NOTHING_ASKED,
) -> IntakeOutcome:
    """Take in everything that waits in the inbox, and what has to be read again.

    Parameters
    ----------
    workspace : Path
        The academy's folder.
    con : duckdb connection
        Its warehouse, open for writing: that is what keeps a second run out.
    academy : Academy
    now : datetime
        The clock, aware or UTC.
    progress : callable, optional
        Called with what is being done, files done, and files in all.
    asked : AskedAgain, optional
        Kept files that somebody wants tried again.

    Returns
    -------
    IntakeOutcome
        One entry for each file, also for those that were known or are still being written.
    """
    context = _begun(workspace, con, academy, now)
    waiting = waiting_files(workspace)
    wishes, handed = (_handed_in(context, waiting, asked, is_meant) for is_meant in (is_handed_withdrawal, is_handed_mapping))
    files = [arrival for arrival in waiting if arrival not in (*wishes, *handed)]
    back = take_back_handed(con, wishes)
    for n_rows in back.n_rows:
        note(Workspace(workspace), now, "withdraw", rows=n_rows)
    placed = place_mappings(workspace, con, academy, context.now, handed, files)
    again = placed.again(asked, {arrival.again for arrival in (*wishes, *handed)})
    taken = _take(context, read_otherwise(context, again, placed.files) + files, progress, back.refused + placed.refused)
    for delivery in back.settled + placed.settled:
        settle(workspace, con, delivery)
    return replace(taken, files=(*back.outcomes, *placed.outcomes, *taken.files))


def _handed_in(
    context: IntakeContext, waiting: list[Arrival], asked: AskedAgain, is_meant: Callable[[str], bool]
) -> list[Arrival]:
    """What waits that is no file to be read, and of what is held what somebody wants tried again."""
    held = refused_deliveries(context.workspace, context.con, is_meant)
    return [arrival for arrival in waiting if is_meant(arrival.name)] + [one for one in held if one.again in asked.file_ids]


def take_arrivals(
    workspace: Path, con: duckdb.DuckDBPyConnection, academy: Academy, now: datetime, arrivals: list[Arrival]
) -> IntakeOutcome:
    """Take in these files as they came, wherever they lie, into a warehouse that is made anew."""
    return _take(_begun(workspace, con, academy, now), arrivals, None)


def _begun(workspace: Path, con: duckdb.DuckDBPyConnection, academy: Academy, now: datetime) -> IntakeContext:
    with transaction(con):
        keep_academy(con, academy.name, academy.time_zone)
    return IntakeContext(
        workspace,
        con,
        academy.time_zone,
        utc(now),
        Readings.of(workspace / "mappings", academy, con),
    )


def _take(
    context: IntakeContext, arrivals: list[Arrival], progress: Progress | None, refused: Sequence[tuple[Arrival, Unread]] = ()
) -> IntakeOutcome:
    waiting = _sorted_out(arrivals, context.readings)
    waiting.unread.extend(refused)
    shown = _Progress(progress, sum(map(len, waiting.by_kind.values())) + len(waiting.unread))
    outcomes = list(waiting.later)
    came = {name for name, there in waiting.by_kind.items() if there} | delivered_kinds(context.con)
    for name, kind in ((name, kind) for name, kind in KINDS.items() if name in came):
        for batch in _batches(look_at_again(context, kind) + waiting.by_kind[name]):
            outcomes += _take_batch(context, kind, batch)
            shown.step(name, len(batch))
        for batch in _batches(bring_back(context, kind)):
            outcomes += _take_batch(context, kind, batch)
    outcomes += load_unread(context, waiting.unread)
    shown.step("held", len(waiting.unread))
    for archive in waiting.archives:
        disk.discard(archive)
    with transaction(context.con):
        close_problems_of_files(context.con)
        close_named(context.con, context.readings.courses)
    keep_list(context.workspace, context.con)
    return IntakeOutcome(
        tuple(outcomes),
        left_alone=left_alone(context.workspace),
        to_drop_again=tuple(context.to_drop_again),
    )
