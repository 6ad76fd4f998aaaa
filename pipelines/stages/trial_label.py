"""Labelling a trial: a shot sheet as it was carried out, joined with the device's shots, becomes a correction of these shots.

For the command line and the desk::

    sheet = planned_lines(root, "p07-20260314", day_no=1)             # or typed_lines("8 warm-up, 5 normal, void, 5 wider", arms)
    shots = shots_named(con, workspace, trial, "shots_2026-03-14.csv", "", now)
    found = labelled(shots, sheet, trial.trial_id)
    path = lay_down(workspace, trial, found)                          # a file of shots in the inbox: the next run takes it in
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.measures.trial.labels import SHEET_SCHEMA, CannotPairError, Paired, pair_by_order_and_time, with_labels
from pipelines.measures.trial.sheet import VOID, WARM_UP, arms_in, typed_order
from pipelines.stages.intake import Readings, find_delivery, rows_of_file
from pipelines.stages.intake.disk import write_whole
from schemas.errors import NotFoundError, UsageError
from schemas.files import KINDS
from schemas.spreadsheet import csv_of
from warehouse.trial import declared_trial, sessions_of_player, shots_of_file, shots_of_session

if TYPE_CHECKING:
    from datetime import date, datetime

    import duckdb

    from pipelines.workspace import Workspace

_RANGE = re.compile(r"\s*([1-9][0-9]{0,2})\s*(?:-\s*([1-9][0-9]{0,2}))?\s*")


@dataclass(frozen=True)
class DeclaredTrial:
    """A trial as its file declares it.

    Attributes
    ----------
    trial_id, player_id : str
    arms : tuple of str
    began_on : date
    """

    trial_id: str
    player_id: str
    arms: tuple[str, ...]
    began_on: date


@dataclass(frozen=True)
class LabelledSession:
    """The shots of one session with the labels of a sheet.

    Attributes
    ----------
    session_id : str
    shots : polars.DataFrame
        Columns of a shots file.
    sheet : polars.DataFrame
        ``SHEET_SCHEMA``.
    paired : Paired
    agrees : bool
        Whether sheet and file differ in nothing but what somebody has named.
    """

    session_id: str
    shots: pl.DataFrame
    sheet: pl.DataFrame
    paired: Paired
    agrees: bool


def trial_of(con: duckdb.DuckDBPyConnection, trial_id: str) -> DeclaredTrial:
    """The declared trial of that id.

    Raises
    ------
    NotFoundError
        When no trials file has declared it yet.
    """
    row = declared_trial(con, trial_id)
    return DeclaredTrial(trial_id, row["player_id"], arms_in(row["arms"]), row["began_on"])


_SHEET: dict[str, pl.DataType] = {
    "day_no": pl.Int64(),
    "shot_no": pl.Int64(),
    **{name: SHEET_SCHEMA[name] for name in ("felt", "arm", "block_no", "counts")},
}
"""Columns of a planned sheet that are read here."""


def _sheet(root: Path, trial_id: str) -> pl.DataFrame:
    """A planned sheet as its file has it; without rows when there is none."""
    path = root / "sheets" / f"{trial_id}.csv"
    if not path.is_file():
        return pl.DataFrame(schema=_SHEET)
    return pl.read_csv(path, schema_overrides=_SHEET)


def sheet_days(root: Path, trial_id: str) -> list[int]:
    """The days of a planned sheet; empty when there is none."""
    return _days(_sheet(root, trial_id))


def _days(sheet: pl.DataFrame) -> list[int]:
    return sorted(sheet["day_no"].unique().to_list())


def planned_lines(root: Path, trial_id: str, day_no: int) -> pl.DataFrame:
    """One day of the planned sheet: ``SHEET_SCHEMA``, without times.

    Raises
    ------
    NotFoundError
        When there is no sheet of that trial, or no such day on it.
    """
    sheet = _sheet(root, trial_id)
    days = _days(sheet)
    if day_no not in days:
        known = f"It has days 1 to {len(days)}." if days else 'Type the order of arms instead: --arms "5 normal, 5 wider".'
        raise NotFoundError(f"There is no sheet of day {day_no} of trial {trial_id}.", known)
    return _lines(sheet.filter(pl.col("day_no") == day_no).sort("shot_no").to_dicts())


def _lines(rows: list[dict[str, Any]]) -> pl.DataFrame:
    numbered = [{"at": None, "felt": None, **row, "sheet_no": place} for place, row in enumerate(rows, start=1)]
    return pl.DataFrame([{name: row[name] for name in SHEET_SCHEMA} for row in numbered], schema=SHEET_SCHEMA)


def typed_lines(text: str, arms: tuple[str, ...]) -> pl.DataFrame:
    """A sheet from one typed line: how many of which arm in turn, with commas.

    Parameters
    ----------
    text : str
        For example ``8 warm-up, 5 normal, 2 wider, void, 3 wider``. ``warm-up`` shots do not count; ``void`` is a shot that was
        struck and does not count, within the block in which it stands.
    arms : tuple of str
        The trial's.

    Raises
    ------
    UsageError
        When a word is no arm of the trial, or there are more than 500 lines.
    """
    try:
        shots = typed_order(text, arms)
    except ValueError as fault:
        known = ", ".join((*arms, WARM_UP[0], VOID[0]))
        raise UsageError(f"This is no order of arms: {fault}.", f"Use, with numbers before them: {known}.") from fault
    return _lines([{"arm": shot.arm, "block_no": shot.block_no, "counts": shot.counts} for shot in shots])


def numbers_in(text: str) -> frozenset[int]:
    """Numbers typed as ``3, 8-10``.

    Raises
    ------
    UsageError
    """
    found: set[int] = set()
    for item in filter(str.strip, text.split(",")):
        match = _RANGE.fullmatch(item)
        if match is None:
            raise UsageError(f"{item.strip()} is no number of a shot.", "Write numbers and ranges with commas: 3, 8-10.")
        found |= set(range(int(match[1]), int(match[2] or match[1]) + 1))
    return frozenset(found)


def shots_named(
    con: duckdb.DuckDBPyConnection, workspace: Workspace, trial: DeclaredTrial, name: str, session_id: str, now: datetime
) -> pl.DataFrame:
    """The shots of one session of the trial's player: in a file on the disk, a file that was taken in, or a session's id.

    Raises
    ------
    NotFoundError
        When there is no such file, or no shots of the player in it.
    UsageError
        When it holds several of the player's sessions and none is named, or is no file of shots.
    """
    rows = _rows_named(con, workspace, name, now)
    own = rows.filter(pl.col("player_id") == trial.player_id, (pl.col("session_id") == session_id) | (session_id == ""))
    sessions = own["session_id"].unique(maintain_order=True).to_list()
    if not sessions:
        raise NotFoundError(f"{name} has no shots of {trial.player_id}.", "Name the file of this trial's day.")
    if len(sessions) > 1:
        raise UsageError(f"{name} has several sessions: {', '.join(sessions[:6])}.", "Say which with --session.")
    return own.select(KINDS["shots"].names)


def _rows_named(con: duckdb.DuckDBPyConnection, workspace: Workspace, name: str, now: datetime) -> pl.DataFrame:
    path = Path(name)
    if path.is_file():
        if workspace.inbox.resolve() in path.resolve().parents:
            raise UsageError(f"{name} still waits in the inbox.", "Take it in first with `speedworth run`, then label it.")
        kind, rows = rows_of_file(path, Readings.of(workspace.mappings, workspace.academy(), con), now)
        if kind != "shots":
            raise UsageError(f"{name} is a file of {kind}, not of shots.", "Name the device's file.")
        return rows
    by_session = shots_of_session(con, name)
    return by_session if not by_session.is_empty() else shots_of_file(con, find_delivery(con, name, ("loaded",))["file_id"])


def labelled(
    shots: pl.DataFrame,
    sheet: pl.DataFrame,
    trial_id: str,
    missed: frozenset[int] = frozenset(),
    left_out: frozenset[int] = frozenset(),
) -> LabelledSession:
    """Join one session's shots with the sheet.

    Parameters
    ----------
    shots : polars.DataFrame
        Columns of a shots file, of one session.
    sheet : polars.DataFrame
        ``SHEET_SCHEMA``.
    trial_id : str
    missed : frozenset of int
        Lines of the sheet that the device did not read, as somebody says.
    left_out : frozenset of int
        Shots that are not of the sheet, as somebody says.

    Raises
    ------
    UsageError
        When numbers differ and nothing tells which are missing, or a number is not there.
    """
    _refuse_unknown(missed - set(sheet["sheet_no"]), "line of the sheet")
    _refuse_unknown(left_out - set(shots["shot_no"]), "shot of the file")
    kept = sheet.filter(~pl.col("sheet_no").is_in(sorted(missed)))
    try:
        paired = pair_by_order_and_time(kept, shots.filter(~pl.col("shot_no").is_in(sorted(left_out))))
    except CannotPairError as fault:
        raise UsageError(
            f"The sheet has {fault.n_lines} shots and the file {fault.n_shots}; without times nothing tells which are missing.",
            "Say it: --missed for lines of the sheet that were not read, --left-out for shots of the file that are not of it.",
        ) from fault
    aside = [(line, None, "missing") for line in sorted(missed)] + [(None, shot, "extra") for shot in sorted(left_out)]
    more = pl.DataFrame(aside, schema=paired.pairs.schema, orient="row")
    whole = Paired(pl.concat([paired.pairs, more]), paired.by, paired.clock_s, paired.out_of_order)
    return LabelledSession(
        str(shots["session_id"][0]), with_labels(shots, sheet, whole, trial_id), sheet, whole, agrees=paired.agrees
    )


def _refuse_unknown(numbers: frozenset[int] | set[int], what: str) -> None:
    if numbers:
        raise UsageError(f"There is no {what} {', '.join(map(str, sorted(numbers)))}.", "Look at the numbers again.")


def correction_rows(found: LabelledSession) -> list[dict[str, Any]]:
    """Rows of a shots file; instants in UTC and said so, because a native file reads others as local."""
    instant = pl.col("struck_at").dt.strftime("%Y-%m-%dT%H:%M:%S%.6fZ")
    return found.shots.with_columns(instant).to_dicts()


def told_differences(found: LabelledSession) -> list[str]:
    """What was joined, and each difference, as lines of text."""
    paired, both = found.paired, found.paired.pairs.filter(pl.col("differs") == "").height
    lines = [f"Session {found.session_id}: {both} shots are on the sheet and in the file, told by {paired.by}."]
    if paired.clock_s is not None and abs(paired.clock_s) >= 60:
        lines.append(f"The device's clock is {abs(paired.clock_s):.0f} s {'ahead' if paired.clock_s > 0 else 'behind'}.")
    for numbers, says in (
        (paired.missing, "On the sheet and not in the file"),
        (paired.extra, "In the file and not on the sheet"),
        (paired.out_of_order, "Struck before a shot of a smaller number"),
    ):
        if numbers:
            lines.append(f"{says}: {', '.join(map(str, numbers))}.")
    return lines


def lay_down(workspace: Workspace, trial: DeclaredTrial, found: LabelledSession) -> Path:
    """Write the labelled shots into the inbox, whole or not at all."""
    path = workspace.inbox / f"shots_{trial.trial_id}_{found.session_id}.csv"
    rows = pl.DataFrame(correction_rows(found), schema_overrides={"felt": pl.String}, infer_schema_length=None)
    write_whole(path, csv_of(rows).encode())
    return path


def near_sessions(con: duckdb.DuckDBPyConnection, trial: DeclaredTrial, day: date) -> pl.DataFrame:
    """Sessions of the player with shots within a day of ``day``: session_id, started_at, device_id, n_shots, n_labelled."""
    return sessions_of_player(con, trial.player_id, trial.trial_id, day)
