"""What would happen to a file, with nothing changed anywhere."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake import disk
from pipelines.stages.intake.batch import Incoming, assembled
from pipelines.stages.intake.check import Known
from pipelines.stages.intake.confirm import held_to_confirm, would_take_away
from pipelines.stages.intake.discover import Arrival, one_file, utc
from pipelines.stages.intake.packed import unpacked
from pipelines.stages.intake.reading import delivery_id, kind_for, read_content
from pipelines.stages.intake.references import known_for
from pipelines.stages.intake.table import Unread
from pipelines.stages.intake.verdict import BatchVerdict, file_problem, judged
from schemas.errors import UsageError
from schemas.files import KINDS
from schemas.problems import PROBLEM_SCHEMA
from schemas.results import FileOutcome
from warehouse.files import known_files, replaced_by

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    import duckdb

    from pipelines.stages.intake.reading import Readings
    from schemas.files import FileKind


@dataclass(frozen=True)
class Inspection:
    """What would happen.

    Attributes
    ----------
    files : tuple of FileOutcome
        One; several for an archive.
    problems : polars.DataFrame
        Columns of ``PROBLEM_SCHEMA``.
    replaced : polars.DataFrame
        ``file``, ``part``, ``by_this``: sessions and the like of which an older version is there (``by_this`` true: it would
        be replaced) or a newer one (false: this file's rows would not stay).
    """

    files: tuple[FileOutcome, ...]
    problems: pl.DataFrame
    replaced: pl.DataFrame


@dataclass(frozen=True)
class ReadThrough:
    """What would happen to a file that is read through a mapping which is not in place.

    Attributes
    ----------
    found : Inspection
    kind : str
        Empty when the mapping cannot be used.
    rows : polars.DataFrame
        The rows that would load: ``line``, and those columns of the kind that hold something.
    """

    found: Inspection
    kind: str
    rows: pl.DataFrame


_REPLACED = {"file": pl.String(), "part": pl.String(), "by_this": pl.Boolean()}


def _problem_frame(problems: pl.DataFrame, name: str) -> pl.DataFrame:
    return problems.with_columns(pl.lit(name).alias("file")).select(list(PROBLEM_SCHEMA))


def _unread(arrival: Arrival, kind: str, reason: Unread) -> Inspection:
    told = pl.DataFrame([file_problem(0, reason)]).with_columns(pl.col("line").cast(pl.Int64))
    outcome = FileOutcome(arrival.name, kind, "", "held", reason.n_rows, 0, reason.n_rows, reason=reason.rule)
    return Inspection((outcome,), _problem_frame(told, arrival.name), pl.DataFrame(schema=_REPLACED))


def _recognised(arrival: Arrival, readings: Readings) -> tuple[FileKind, bytes] | Unread:
    """Kind and bytes of a file, or why it has none."""
    name, data = kind_for(arrival, readings), disk.content(arrival)
    if isinstance(data, str):
        return Unread(data)
    return name if isinstance(name, Unread) else (KINDS[name], data)


def _inspected(arrival: Arrival, readings: Readings, now: datetime) -> Inspection:
    recognised = _recognised(arrival, readings)
    if isinstance(recognised, Unread):
        return _unread(arrival, "", recognised)
    kind, data = recognised
    file_id = delivery_id(arrival, data, readings)
    con = readings.con
    if con is not None and any(earlier.stands for earlier in known_files(con, [file_id]).values()):
        outcome = FileOutcome(arrival.name, kind.name, file_id, "unchanged", 0, 0, 0)
        return Inspection((outcome,), pl.DataFrame(schema=PROBLEM_SCHEMA), pl.DataFrame(schema=_REPLACED))
    return _read_alone(kind, Incoming(arrival, file_id, data, read_content(kind, arrival, data, readings)), readings, now)[0]


def _read_alone(kind: FileKind, incoming: Incoming, readings: Readings, now: datetime) -> tuple[Inspection, pl.DataFrame]:
    """What would happen to the one file, and its good rows."""
    _, verdict = _judged_alone(kind, incoming, readings, now)
    arrival, con = incoming.arrival, readings.con
    replaced = _replaced(con, kind.name, verdict, arrival) if con is not None else pl.DataFrame(schema=_REPLACED)
    if con is not None and not verdict.files[0].reason:
        taken = would_take_away(con, kind, verdict.good, replaced.filter("by_this")["part"])
        verdict = held_to_confirm(verdict, {0: taken}) if taken else verdict
    outcome = _outcome(arrival, kind.name, incoming.file_id, verdict, replaced)
    return Inspection((outcome,), _problem_frame(verdict.problems, arrival.name), replaced), verdict.good


def _judged_alone(kind: FileKind, incoming: Incoming, readings: Readings, now: datetime) -> tuple[Incoming, BatchVerdict]:
    """One file as a batch of its own: as it was understood, and what becomes of it."""
    con = readings.con
    batch, rows = assembled(kind, [incoming])
    known = known_for(con, kind, batch, rows, now, readings) if con is not None else Known(None, None, now)
    return batch[0], judged(kind, batch, rows, readings.time_zone, known)


def _dropped(path: Path, mapping: str) -> Arrival:
    """The file as if it lay in the inbox, in the folder of its mapping."""
    folder = path.parent.name if path.parent.parent.name == "inbox" else ""
    return one_file(path, mapping or folder)


def _replaced(con: duckdb.DuckDBPyConnection, kind: str, verdict: BatchVerdict, arrival: Arrival) -> pl.DataFrame:
    found = replaced_by(con, KINDS[kind], verdict.good, arrival.modified_at, arrival.name)
    return found.select(pl.lit(arrival.name).alias("file"), "part", "by_this")


def _outcome(arrival: Arrival, kind: str, file_id: str, verdict: BatchVerdict, replaced: pl.DataFrame) -> FileOutcome:
    file = verdict.files[0]
    status = "held" if file.reason else "loaded"
    parts_kept = verdict.good.height and not replaced.is_empty() and not replaced["by_this"].any()
    if status == "loaded" and parts_kept and replaced.height == _n_parts(kind, verdict):
        status = "superseded"
    return FileOutcome(
        arrival.name, kind, file_id, status, file.n_rows, file.n_loaded, file.n_quarantined, file.n_warnings, file.reason
    )


def _n_parts(kind: str, verdict: BatchVerdict) -> int:
    return verdict.good.select(KINDS[kind].replaces).n_unique()


def check_file(path: Path, readings: Readings, now: datetime, mapping: str = "") -> Inspection:
    """What would be loaded, held or replaced, and why.

    Parameters
    ----------
    path : Path
    readings : Readings
        The mappings, which need not exist, and the warehouse that is asked about players, sessions and earlier files; where it
        has none, these are not checked.
    now : datetime
    mapping : str
        Name of the mapping to read through; empty: the name of the inbox folder it lies in, or our own form.

    Raises
    ------
    OSError
        When there is no such file.
    """
    dropped = _dropped(path, mapping)
    arrivals = [dropped]
    if not dropped.fault and dropped.ending in {".gz", ".zip"}:
        data = disk.content(dropped)
        inside = Unread(data) if isinstance(data, str) else unpacked(dropped, data)
        if isinstance(inside, Unread):
            return _unread(dropped, "", inside)
        arrivals = inside
    parts = [_inspected(arrival, readings, utc(now)) for arrival in arrivals]
    return Inspection(
        tuple(file for part in parts for file in part.files),
        pl.concat([part.problems for part in parts]),
        pl.concat([part.replaced for part in parts]),
    )


def read_through(arrival: Arrival, readings: Readings, now: datetime) -> ReadThrough:
    """What would happen to a file that is read through the mapping of its arrival, whatever it was before.

    Parameters
    ----------
    arrival : Arrival
        Of one table, no archive.
    readings : Readings
        With the text of the mapping; the warehouse as for :func:`check_file`.
    now : datetime
    """
    recognised = _recognised(arrival, readings)
    if isinstance(recognised, Unread):
        return ReadThrough(_unread(arrival, "", recognised), "", pl.DataFrame(schema={"line": pl.Int64()}))
    kind, data = recognised
    incoming = Incoming(arrival, delivery_id(arrival, data, readings), data, read_content(kind, arrival, data, readings))
    found, good = _read_alone(kind, incoming, readings, utc(now))
    held = [column for column in kind.names if column in good.columns and good[column].null_count() < good.height]
    return ReadThrough(found, kind.name, good.select("line", *held).sort("line"))


def rows_of_file(path: Path, readings: Readings, now: datetime, mapping: str = "") -> tuple[str, pl.DataFrame]:
    """Kind and typed good rows of one file, with the columns of its kind; nothing is taken in.

    Parameters are those of :func:`check_file`.

    Raises
    ------
    UsageError
        When the file cannot be read, or is an archive of several.
    OSError
        When there is no such file.
    """
    arrival = _dropped(path, mapping)
    recognised = _recognised(arrival, readings)
    if isinstance(recognised, Unread) or arrival.ending in {".gz", ".zip"}:
        raise UsageError(f"{path.name} cannot be read as one table.", f"See `speedworth check {shlex.quote(str(path))}`.")
    kind, data = recognised
    incoming = Incoming(arrival, "", data, read_content(kind, arrival, data, readings))
    understood, verdict = _judged_alone(kind, incoming, readings, now)
    if isinstance(understood.content, Unread):
        raise UsageError(
            f"{path.name} cannot be read: {understood.content.rule}.", f"See `speedworth check {shlex.quote(str(path))}`."
        )
    return kind.name, verdict.good.select(kind.names)
