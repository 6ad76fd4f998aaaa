"""One batch into the warehouse: judged, its lists written, its rows and ledger committed, its originals moved."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.stages.intake import disk
from pipelines.stages.intake.batch import Incoming, assembled
from pipelines.stages.intake.check import Known
from pipelines.stages.intake.confirm import ToConfirmError, held_to_confirm, require_confirmed, whose
from pipelines.stages.intake.implied import implied_sessions
from pipelines.stages.intake.lists import PROBLEM_HEADER, by_file, list_places, told_in_words, write_list
from pipelines.stages.intake.originals import keep_list
from pipelines.stages.intake.reading import delivery_id
from pipelines.stages.intake.redact import private_lines, without_rows
from pipelines.stages.intake.references import known_for
from pipelines.stages.intake.rules import INTAKE_RULES
from pipelines.stages.intake.table import Cells, Plain, Unread
from pipelines.stages.intake.verdict import PROBLEM_COLUMNS, BatchVerdict, FileVerdict, file_problem, judged, warned_of
from pipelines.stages.intake.visits import told_apart
from pipelines.stages.intake.withdrawn import tell_to_drop_again, withdraw_consent
from schemas.core import core_tables
from schemas.files import KINDS, FileKind
from schemas.results import FileOutcome
from warehouse.connection import transaction
from warehouse.consent import state_consents
from warehouse.files import (
    KnownFile,
    forget_file,
    known_files,
    load_rows,
    write_ledger,
)
from warehouse.problems import close_problems, warn_of_shrunk_parts

if TYPE_CHECKING:
    from concurrent.futures import Future
    from datetime import datetime
    from pathlib import Path

    import duckdb

    from pipelines.stages.intake.discover import Arrival
    from pipelines.stages.intake.reading import Readings


@dataclass(frozen=True)
class IntakeContext:
    """What one run of the intake works with.

    Attributes
    ----------
    workspace : Path
    con : duckdb connection
    time_zone : str
    now : datetime
        UTC without zone.
    readings : Readings
    settled : list of Arrival
        Files that are kept already; they are taken out of the inbox after the batch.
    to_drop_again : list of tuple
        Name of a file and player: of these rows nothing was kept, and by now the player has agreed.
    """

    workspace: Path
    con: duckdb.DuckDBPyConnection
    time_zone: str
    now: datetime
    readings: Readings
    settled: list[Arrival] = field(default_factory=list)
    to_drop_again: list[tuple[str, str]] = field(default_factory=list)


@dataclass(frozen=True)
class StoredFile:
    """Where a file's original goes."""

    incoming: Incoming
    verdict: FileVerdict
    private: tuple[int, ...]
    place: str


def _judged(context: IntakeContext, kind: FileKind, batch: list[Incoming]) -> tuple[list[Incoming], BatchVerdict]:
    """Judge a batch; when one odd file breaks it, file by file; a file that breaks alone is held."""
    try:
        read, rows = assembled(kind, batch)
        if kind.name == "shots":
            rows = told_apart(context.con, read, rows, context.readings)
        known = known_for(context.con, kind, read, rows, context.now, context.readings)
        return read, judged(kind, read, rows, context.time_zone, known)
    except (Exception, pl.exceptions.PanicException) as fault:
        if len(batch) > 1:
            raise _OddFileError from fault
        told = f"{type(fault).__name__}: {fault}".splitlines()[0][:200]
        odd = [replace(batch[0], content=Unread("not_readable", told))]
        read, rows = assembled(kind, odd)
        return read, judged(kind, read, rows, context.time_zone, Known(None, None))


class _OddFileError(Exception):
    """One file of a batch cannot be worked with; which one is found file by file."""


def load_batch(context: IntakeContext, kind: FileKind, batch: list[Incoming]) -> list[FileOutcome]:
    """Take in files of one kind; returns what became of each."""
    try:
        batch, verdict = _judged(context, kind, batch)
    except _OddFileError:
        return [outcome for incoming in batch for outcome in load_batch(context, kind, [incoming])]
    earlier = known_files(context.con, [incoming.arrival.again for incoming in batch if incoming.arrival.again])
    while True:
        placed = [_placed(kind, incoming, file) for incoming, file in zip(batch, verdict.files, strict=True)]
        try:
            with ThreadPoolExecutor(1) as beside:  # thousands of small files take as long to write as their rows to load
                written = beside.submit(_write_before, context, kind, placed, verdict)
                _commit(context, kind, placed, verdict, earlier, written)
        except ToConfirmError as doubt:
            verdict = held_to_confirm(
                verdict, {at: doubt.told[one.file_id] for at, one in enumerate(batch) if one.file_id in doubt.told}
            )
            continue
        keep_list(context.workspace, context.con)
        _move_after(context, placed, earlier)
        return [_outcome(kind, *one) for one in zip(placed, _said(verdict), warned_of(verdict), strict=True)]


def _placed(kind: FileKind, incoming: Incoming, verdict: FileVerdict) -> StoredFile:
    private = private_lines(incoming.content, verdict.private_lines) if kind.body or verdict.private_lines else ()
    name = incoming.arrival.name
    if private and incoming.arrival.ending not in {".csv", ".jsonl"}:
        name += ".csv"
    choose = disk.quarantine_place if verdict.reason else disk.archive_place
    redacted = bool(private) or incoming.arrival.is_redacted
    if incoming.arrival.is_redacted:
        name = f"{name.removesuffix(f'.{disk.ending(name)}')}{incoming.arrival.path.suffix}"
    return StoredFile(incoming, verdict, private, choose(incoming.file_id, name, redacted=redacted))


def _write_before(context: IntakeContext, kind: FileKind, placed: list[StoredFile], verdict: BatchVerdict) -> None:
    """Lists of problems, rejected rows and redacted copies: all may be written again after a crash."""
    is_warning = pl.col("severity") == "warning"  # what has to be done stands on top
    told = by_file(verdict.problems.sort("file", is_warning, "line", nulls_last=False), PROBLEM_HEADER[1:])
    columns = [name for name in verdict.rejected.columns if name != "file"]
    rejected = by_file(verdict.rejected, columns)
    for at, one in enumerate(placed):
        if at in told or one.incoming.arrival.again:
            _write_lists(context, kind, one.incoming, told.get(at, []), _own_rows(one.incoming, columns, rejected.get(at, [])))
        place, arrival = context.workspace / one.place, one.incoming.arrival
        if arrival.kept and not one.private and place != arrival.path:
            disk.write_whole(place, one.incoming.data)
        if one.private:
            incoming = one.incoming
            copy, _ = without_rows(incoming.data, incoming.arrival.ending, incoming.content, one.private)
            disk.write_whole(context.workspace / one.place, copy)


def _write_lists(
    context: IntakeContext,
    kind: FileKind,
    incoming: Incoming,
    told: list[tuple[Any, ...]],
    rows: tuple[tuple[str, ...], list[tuple[Any, ...]]],
) -> None:
    name = incoming.arrival.name
    problems_place, rows_place = list_places(incoming.file_id, name, kind.name)
    write_list(context.workspace / problems_place, PROBLEM_HEADER, [(name, *cells) for cells in told])
    write_list(context.workspace / rows_place, *rows)


def _own_rows(
    incoming: Incoming, columns: list[str], rows: list[tuple[Any, ...]]
) -> tuple[tuple[str, ...], list[tuple[Any, ...]]]:
    """Rejected rows under the header of their own file: a batch has the columns of all of its files."""
    header = () if isinstance(incoming.content, Unread) else incoming.content.header
    own = [at for at, name in enumerate(columns) if name in header]
    return tuple(columns[at] for at in own), [tuple(cells[at] for at in own) for cells in rows]


def _commit(
    context: IntakeContext,
    kind: FileKind,
    placed: list[StoredFile],
    verdict: BatchVerdict,
    earlier: dict[str, KnownFile],
    written: Future[None],
) -> None:
    """The batch in one transaction, which ends only when its lists are ``written``."""
    con = context.con
    ids = pl.Series("file_id", [one.incoming.file_id for one in placed], dtype=pl.String)
    files = _ledger(context, kind, placed)
    problems = _with_ids(verdict.problems, ids)
    rows = verdict.good.with_columns(ids.gather(verdict.good["file"]).alias("file_id")).drop("file")
    with transaction(con):
        for file_id, known in earlier.items():
            forget_file(con, KINDS.get(known.kind), file_id)
        write_ledger(con, files, problems)
        if kind.name == "shots":
            batch = [one.incoming for one in placed]
            load_rows(con, KINDS["sessions"], implied_sessions(batch, verdict.good, ids, context.time_zone))
        before = whose(con, kind, rows)
        shrunk = load_rows(con, kind, rows)
        require_confirmed(con, kind, [one.incoming for one in placed], earlier, shrunk, before)
        rule = INTAKE_RULES["fewer_rows_than_before"]
        warn_of_shrunk_parts(con, shrunk, rule.allowed, rule.hint)
        if kind.name == "players":
            state_consents(con, rows, files)
            withdraw_consent(con, context.workspace, context.readings)
            context.to_drop_again.extend(tell_to_drop_again(con, context.workspace))
        close_problems(con, kind, rows, problems, files)
        written.result()


def _with_ids(problems: pl.DataFrame, ids: pl.Series) -> pl.DataFrame:
    return problems.with_columns(ids.gather(problems["file"]).alias("file_id"), pl.lit(value=False).alias("closed")).drop("file")


def _ledger(context: IntakeContext, kind: FileKind | None, placed: list[StoredFile]) -> pl.DataFrame:
    rows = [
        {
            "file_id": one.incoming.file_id,
            "name": one.incoming.arrival.name,
            "kind": kind.name if kind else "",
            "mapping": one.incoming.arrival.mapping,
            "modified_at": one.incoming.arrival.modified_at,
            "received_at": context.now,
            "bytes": len(one.incoming.data),
            "n_rows": one.verdict.n_rows,
            "n_loaded": one.verdict.n_loaded,
            "n_quarantined": one.verdict.n_quarantined,
            "n_ignored": one.verdict.n_ignored,
            "n_warnings": one.verdict.n_warnings,
            "n_emptied": one.verdict.n_emptied,
            "status": "held" if one.verdict.reason else "loaded",
            "superseded_by": None,
            "kept_as": one.place,
            "redacted": bool(one.private) or one.incoming.arrival.is_redacted,
            "absent": _absent(kind, one.incoming.content),
            "reading": context.readings.reading(one.incoming.arrival.mapping),
        }
        for one in placed
    ]
    return pl.DataFrame(rows, schema=core_tables()["file"].polars_schema())


def _absent(kind: FileKind | None, content: Plain | Cells | Unread) -> str | None:
    """Columns that a file does not have, where what is there of them stays."""
    if kind is None or kind.fills != "absent columns" or isinstance(content, Unread):
        return None
    return ",".join(name for name in kind.names if name not in content.header)


def _move_after(context: IntakeContext, placed: list[StoredFile], earlier: dict[str, KnownFile]) -> None:
    """Originals out of the inbox; copies and lists that an earlier look left elsewhere are removed."""
    for one in placed:
        disk.move_original(one.incoming.arrival, context.workspace / one.place, one.incoming.data)
        _clear_earlier(context, one, earlier.get(one.incoming.arrival.again))


def _clear_earlier(context: IntakeContext, one: StoredFile, earlier: KnownFile | None) -> None:
    if earlier is None:
        return
    if earlier.kept_as and earlier.kept_as != one.place:
        (context.workspace / earlier.kept_as).unlink(missing_ok=True)
    again = one.incoming.arrival.again or one.incoming.file_id
    if (again, earlier.name) != (one.incoming.file_id, one.incoming.arrival.name):
        for place in list_places(again, earlier.name, earlier.kind):
            (context.workspace / place).unlink(missing_ok=True)


def load_unread(context: IntakeContext, unread: list[tuple[Arrival, Unread]]) -> list[FileOutcome]:
    """Hold files that have no kind or cannot be read; links, folders and devices are set aside without being opened."""
    placed: list[StoredFile] = []
    outcomes: list[FileOutcome] = []
    for arrival, reason in unread:
        data = disk.content(arrival)
        if data == disk.GONE and arrival.again and not known_files(context.con, [arrival.again]):
            continue  # it was dropped under another name, and has been taken in as that
        if data in {disk.WAITING, disk.GONE}:
            outcomes.append(FileOutcome(arrival.name, "", "", "waiting", 0, 0, 0, reason=str(data)))
            continue
        bytes_read = data if isinstance(data, bytes) else None
        seed = bytes_read if bytes_read is not None else f"{arrival.name} {arrival.stamp}".encode()
        incoming = Incoming(arrival, delivery_id(arrival, seed, context.readings), bytes_read or b"", reason)
        verdict = FileVerdict(0, 0, 0, 0, 0, 0, reason.rule, ())
        place = "" if arrival.fault == "a_link" else disk.quarantine_place(incoming.file_id, arrival.name, redacted=False)
        placed.append(StoredFile(incoming, verdict, (), place))
    return outcomes + _hold(context, placed)


def _hold(context: IntakeContext, placed: list[StoredFile]) -> list[FileOutcome]:
    agains = [one.incoming.arrival.again for one in placed if one.incoming.arrival.again]
    known = known_files(context.con, [*(one.incoming.file_id for one in placed), *agains])
    standing = {file_id for file_id, earlier in known.items() if earlier.stands}
    first: dict[str, StoredFile] = {}
    for one in placed:
        first.setdefault(one.incoming.file_id, one)
    new = [one for one in first.values() if one.incoming.file_id not in standing]
    found = [file_problem(at, one.incoming.content) for at, one in enumerate(new) if isinstance(one.incoming.content, Unread)]
    problems = pl.DataFrame(found, schema=PROBLEM_COLUMNS)
    told = by_file(problems, PROBLEM_HEADER[1:])
    for at, one in enumerate(new):
        place, _ = list_places(one.incoming.file_id, one.incoming.arrival.name, "")
        rows = [(one.incoming.arrival.name, *cells) for cells in told[at]]
        write_list(context.workspace / place, PROBLEM_HEADER, rows)
    if new:
        ids = pl.Series([one.incoming.file_id for one in new], dtype=pl.String)
        with transaction(context.con):
            for file_id in set(known) & {*ids, *agains}:
                forget_file(context.con, KINDS.get(known[file_id].kind), file_id)
            write_ledger(context.con, _ledger(context, None, new), _with_ids(problems, ids))
        keep_list(context.workspace, context.con)
    for one in placed:
        _set_aside(context, one)
        _clear_earlier(context, one, known.get(one.incoming.arrival.again or one.incoming.file_id))
    return [_hold_outcome(one, standing, beside=first[one.incoming.file_id] is not one) for one in placed]


def _set_aside(context: IntakeContext, one: StoredFile) -> None:
    place = context.workspace / one.place
    if one.incoming.data:
        disk.move_original(one.incoming.arrival, place, one.incoming.data)
    else:
        disk.set_aside(one.incoming.arrival, place)


def _hold_outcome(one: StoredFile, standing: set[str], *, beside: bool) -> FileOutcome:
    incoming = one.incoming
    if beside:
        return FileOutcome(incoming.arrival.name, "", incoming.file_id, "unchanged", 0, 0, 0, note="the same file lies beside it")
    status = "unchanged" if incoming.file_id in standing else "held"
    told = file_problem(0, incoming.content) if isinstance(incoming.content, Unread) else {}
    listed, _ = list_places(incoming.file_id, incoming.arrival.name, "")
    return FileOutcome(
        incoming.arrival.name, "", incoming.file_id, status, 0, 0, 0, reason=one.verdict.reason,
        note=incoming.arrival.why, says=told_in_words(told), listed=listed,
    )  # fmt: skip


def _said(verdict: BatchVerdict) -> list[str]:
    """Of each file of a batch, why it is held in words; empty when it is not."""
    held = {row["file"]: told_in_words(row) for row in verdict.problems.filter(pl.col("severity") == "held").to_dicts()}
    return [held.get(at, "") for at in range(len(verdict.files))]


def _outcome(kind: FileKind, one: StoredFile, says: str, warned: tuple[tuple[str, int], ...]) -> FileOutcome:
    verdict, incoming = one.verdict, one.incoming
    listed, _ = list_places(incoming.file_id, incoming.arrival.name, kind.name)
    return FileOutcome(
        incoming.arrival.name, kind.name, incoming.file_id, "held" if verdict.reason else "loaded",
        verdict.n_rows, verdict.n_loaded, verdict.n_quarantined, verdict.n_warnings, verdict.reason, verdict.n_emptied,
        incoming.arrival.why, says, listed if verdict.n_quarantined or verdict.n_emptied or verdict.reason or warned else "",
        warned,
    )  # fmt: skip
