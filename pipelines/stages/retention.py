"""How long rows are kept: what is older than academy.toml says goes, for good, out of warehouse, originals and lists.

A row is as old as the last day that it speaks of; one that names none is as old as its file here. The warehouse loses the rows
first and the kept copies after it, so that whatever ends this in between is finished by the next time: lines that are still in a
copy are found there again, and counted only once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.stages.audit_log import clock_jumped, note
from pipelines.stages.finding import Finding
from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.lists import list_places, without_rows_of, write_problems
from pipelines.stages.intake.originals import keep_list
from pipelines.stages.intake.reading import Readings
from pipelines.stages.intake.redact import kept_rows, redact_lines
from schemas.files import KINDS
from warehouse.connection import open_warehouse, transaction
from warehouse.consent import moved
from warehouse.expiry import LINES, day_columns, expire_lines, old_rows, received_days
from warehouse.persons import empty_held_file

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date, datetime
    from typing import Any

    import duckdb

    from pipelines.workspace import Workspace
    from schemas.files import FileKind

_WITH = {"sessions": ("shots", "sessions")}
"""Kinds that go together: shots are as old as their session, and leave before it."""


@dataclass(frozen=True)
class Expired:
    """What was too old.

    Attributes
    ----------
    rows : dict
        Kind to rows that counted.
    n_files : int
        Kept files that lost lines or were removed.
    """

    rows: dict[str, int] = field(default_factory=dict)
    n_files: int = 0

    @property
    def n_rows(self) -> int:
        """Rows of all kinds."""
        return sum(self.rows.values())


def first_day(today: date, years: int) -> date:
    """The first day that is kept."""
    try:
        return today.replace(year=today.year - years)
    except ValueError:  # 29 February
        return today.replace(year=today.year - years, day=28)


def limits_of(keep_years: Mapping[str, int], today: date) -> dict[str, date]:
    """Kind to the first day that is kept, in the order in which rows have to leave."""
    return {kind: first_day(today, years) for name, years in sorted(keep_years.items()) for kind in _WITH.get(name, (name,))}


def too_old(workspace: Workspace, con: duckdb.DuckDBPyConnection, today: date) -> dict[str, pl.DataFrame]:
    """Kind to ``file_id``, ``line`` of every row that is older than it is kept, also of those that were replaced or refused."""
    academy = workspace.academy()
    found = {}
    for name, before in limits_of(academy.keep_years, today).items():
        kind, readings = KINDS[name], Readings.of(workspace.mappings, academy)
        kept = [
            _old_lines(workspace, kind, file, readings, before)
            for file in received_days(con, (name,)).to_dicts()
            if file["status"] != "held"
        ]
        lines = pl.concat([old_rows(con, kind, before), *kept]).unique().sort("file_id", "line")
        if lines.height:
            found[name] = lines
    return found


def _old_lines(workspace: Workspace, kind: FileKind, file: dict[str, Any], readings: Readings, before: date) -> pl.DataFrame:
    if not (workspace.root / file["kept_as"]).is_file():
        return pl.DataFrame(schema=LINES)
    rows, lines = kept_rows(workspace.root, kind, file, readings)
    old = _is_old(kind, rows, readings.time_zone, file["received_on"], before)
    return pl.DataFrame({"file_id": file["file_id"], "line": lines[old.to_numpy()]}, schema=LINES)


def _is_old(kind: FileKind, rows: pl.DataFrame, time_zone: str, received_on: date, before: date) -> pl.Series:
    if rows.is_empty():
        return pl.Series([], dtype=pl.Boolean)
    values, _ = typed(kind, rows, time_zone)
    last = pl.max_horizontal(pl.col(name).cast(pl.Date) for name in day_columns(kind)).fill_null(received_on)
    return values.select((last < before).alias("old")).to_series()


def looked_at(workspace: Workspace, now: datetime) -> dict[str, int]:
    """Kind to rows that count and are too old; nothing is changed."""
    academy = workspace.academy()
    today = now.astimezone(ZoneInfo(academy.time_zone)).date()
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        found = {name: old_rows(con, KINDS[name], before).height for name, before in limits_of(academy.keep_years, today).items()}
    return {name: n for name, n in found.items() if n}


def clock_findings(workspace: Workspace, now: datetime) -> list[Finding]:
    """Why nothing is taken out by itself for now: where the clock may be wrong; none where it is not, or nothing would go."""
    if not workspace.academy().keep_years or not clock_jumped(workspace, now):
        return []
    says = "went on, or back, by more than sixty days lately, so that nothing was taken out as too old"
    todo = "Where this machine's clock is right, nothing is to be done: it goes four weeks on, or at once by `speedworth expire`."
    return [Finding("clock", says, "look", todo)]


def expire(workspace: Workspace, today: date, now: datetime) -> Expired:
    """Take out what is too old. The workspace is held for writing; what is derived follows with the next night.

    Raises
    ------
    SettingsError, WarehouseError
    """
    academy = workspace.academy()
    limits = limits_of(academy.keep_years, today)
    if not limits or not workspace.warehouse.exists():
        return Expired()
    rows: dict[str, int] = {}
    with open_warehouse(workspace.warehouse) as con:
        found = too_old(workspace, con, today)
        if found:
            workspace.rewrite_due.touch()  # until a night has been computed without these rows, and the file written anew
        with transaction(con):
            for name, lines in found.items():
                rows[name] = expire_lines(con, KINDS[name], lines)
        n_files = sum(_clean_kind(workspace, con, name, found.get(name), limits[name]) for name in limits)
        keep_list(workspace.root, con)
    expired = Expired({name: n for name, n in rows.items() if n}, n_files)
    if n_files:
        note(workspace, now, "expired", files=n_files, **expired.rows)
    return expired


def _clean_kind(workspace: Workspace, con: duckdb.DuckDBPyConnection, name: str, lines: pl.DataFrame | None, before: date) -> int:
    """Clean kept copies and lists of one kind; returns how many files lost something."""
    readings = Readings.of(workspace.mappings, workspace.academy())
    parts = lines.partition_by("file_id", as_dict=True) if lines is not None else {}
    by_file = {str(key[0]): part["line"].to_list() for key, part in parts.items()}
    n = 0
    for file in received_days(con, (name,)).to_dicts():
        own = tuple(by_file.get(file["file_id"], ()))
        if file["status"] == "held":
            n += _remove_held(workspace, con, file, before)
        elif own or not (workspace.root / file["kept_as"]).is_file():
            moved(con, file["file_id"], redact_lines(workspace.root, KINDS[name], file, own, readings))
            _clean_lists(workspace, con, file, readings.time_zone, before)
            n += bool(own)
    return n


def _remove_held(workspace: Workspace, con: duckdb.DuckDBPyConnection, file: dict[str, Any], before: date) -> bool:
    """A file that nobody put right in all that time goes whole."""
    if file["received_on"] >= before:
        return False
    (workspace.root / file["kept_as"]).unlink(missing_ok=True)
    for place in list_places(file["file_id"], file["name"], file["kind"]):
        (workspace.root / place).unlink(missing_ok=True)
    empty_held_file(con, file["file_id"])
    return True


def _clean_lists(
    workspace: Workspace, con: duckdb.DuckDBPyConnection, file: dict[str, Any], time_zone: str, before: date
) -> None:
    problems, rejected = (workspace.root / place for place in list_places(file["file_id"], file["name"], file["kind"]))
    if problems.exists():
        write_problems(con, problems, file)
    without_rows_of(rejected, lambda rows: _is_old(KINDS[file["kind"]], rows, time_zone, file["received_on"], before))
