"""Sharing with the federation: of each month that is over, once, what academy.toml agrees to.

A month is shared a week after its end, from what had come by then, and never again: a second version would tell, by its
difference from the first, what one late file changed.
"""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.federation.month import month_end, month_of_blocks, month_of_levels
from pipelines.measures.federation.quality import month_of_quality
from pipelines.measures.trend.points import interval_factor
from pipelines.stages.share_ledger import Ledger, keyed_mark, read_ledger, write_ledger
from pipelines.stages.shared_folder import SharedFolder, open_shared
from schemas.errors import WorkspaceError
from schemas.shared import SHARED
from warehouse.connection import frame

if TYPE_CHECKING:
    import duckdb

    from pipelines.workspace import Workspace
    from schemas.academy import Academy

SETTLED_DAYS = 7
"""Days after its end in which what is late of a month may still come. Own choice."""
_WHOSE = "workspace"


@dataclass(frozen=True)
class Sharing:
    """What a night shared.

    Attributes
    ----------
    n_months, n_rows : int
        Months that were noted in this night, and rows of them.
    trouble : str
        Why the shared folder could not be reached; what waits is written by a later night. Empty: it could.
    """

    n_months: int = 0
    n_rows: int = 0
    trouble: str = ""


@dataclass(frozen=True)
class _Facts:
    """What the warehouse holds, with marks in place of players."""

    people: pl.DataFrame
    levels: pl.DataFrame
    blocks: pl.DataFrame
    sessions: pl.DataFrame
    files: pl.DataFrame


def share_months(con: duckdb.DuckDBPyConnection, workspace: Workspace, academy: Academy, today: dt.date) -> Sharing:
    """Note every month that is due, and write what the shared folder lacks.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        The warehouse, measured.
    workspace : Workspace
        Held for writing.
    academy : Academy
    today : date
        The academy's local day.

    Returns
    -------
    Sharing
    """
    try:
        folder = open_shared(academy.share.folder, workspace.root)
        there = frozenset(folder.names(f"academy={academy.share.academy}"))
        _claim(folder, academy, there)
        ledger = _without_gap(read_ledger(workspace.shared), there, con, academy)
    except WorkspaceError as fault:
        return Sharing(trouble=str(fault))
    due = _due_months(ledger, academy, today)
    if due:
        facts = _facts(con, academy)
        for month_on in due:
            ledger = _noted(ledger, facts, academy, month_on)
        write_ledger(workspace.shared, ledger)
    n_rows = sum(rows.height for month_on in due for rows in ledger.months[month_on].values())
    try:
        _write_missing(folder, ledger, academy, there)
    except WorkspaceError as fault:
        return Sharing(len(due), n_rows, str(fault))
    return Sharing(len(due), n_rows)


def _claim(folder: SharedFolder, academy: Academy, there: frozenset[str]) -> None:
    """Leave a mark of this workspace beside its months; raise where another one has left its own."""
    name = academy.share.academy
    path, mark = f"academy={name}/{_WHOSE}", keyed_mark(academy.id_key, "workspace").encode()
    if path not in there:
        folder.write(path, mark)
    elif folder.read(path) != mark:
        raise WorkspaceError(
            f"Another workspace shares under the name {name} in {folder.address}; nothing was shared.",
            "Give one of the two another name in its [share].",
        )


def _due_months(ledger: Ledger, academy: Academy, today: dt.date) -> list[dt.date]:
    last = (today - dt.timedelta(days=SETTLED_DAYS)).replace(day=1) - dt.timedelta(days=1)
    newest = last.replace(day=1)
    if ledger.months:
        first = month_end(max(ledger.months)) + dt.timedelta(days=1)
    else:
        first = dt.date.fromisoformat(f"{academy.share.first_month}-01") if academy.share.first_month else newest
    found = []
    while first <= newest:
        found.append(first)
        first = month_end(first) + dt.timedelta(days=1)
    return found


def _without_gap(ledger: Ledger, there: frozenset[str], con: duckdb.DuckDBPyConnection, academy: Academy) -> Ledger:
    """The ledger; where the folder holds months that it does not know of, everybody counts as told, and cohorts begin anew.

    So it is after a backup from before these months was brought back: who stood in which sum can no longer be known.
    """
    months = {path.split("/")[1].removeprefix("month=") for path in there if path.count("/") == 2}
    lost = {dt.date.fromisoformat(f"{month}-01") for month in months} - ledger.months.keys()
    if not lost:
        return ledger
    facts = _facts(con, academy)
    everybody = frozenset(facts.people["mark"])
    ended = tuple(replace(one, ended=True) for one in ledger.cohorts)
    known = {month_on: dict[str, pl.DataFrame]() for month_on in lost}
    told = replace(ledger, cohorts=ended, told=ledger.told | everybody, months=ledger.months | known)
    return replace(told, blocks=told.blocks | frozenset(facts.blocks["block"]))


def _noted(ledger: Ledger, facts: _Facts, academy: Academy, month_on: dt.date) -> Ledger:
    share, kinds = academy.share, dict[str, pl.DataFrame]()
    if share.levels:
        made = month_of_levels(ledger.cohorts, ledger.told, facts.people, facts.levels, month_on)
        kinds["level"] = made.rows
        ledger = replace(ledger, cohorts=made.cohorts)
    if share.speed_blocks:
        brought = month_of_blocks(facts.blocks, ledger.blocks, ledger.batches, ledger.cohorts, month_on)
        kinds["speed_block"] = brought.rows
        batches = (*ledger.batches, brought.persons) if brought.persons else ledger.batches
        ledger = replace(ledger, blocks=ledger.blocks | brought.told, batches=batches)
    if share.data_quality:
        kinds["quality"] = month_of_quality(facts.sessions, facts.files, month_on)
    named = {kind: _named(rows, kind, share.academy) for kind, rows in kinds.items()}
    return replace(ledger, months=ledger.months | {month_on: named})


def _named(rows: pl.DataFrame, kind: str, academy: str) -> pl.DataFrame:
    return rows.with_columns(pl.lit(academy).alias("academy")).select(SHARED[kind].names).sort(SHARED[kind].grain)


def missing_paths(ledger: Ledger, academy: Academy, there: frozenset[str]) -> dict[str, pl.DataFrame]:
    """Files that were noted and are not in the shared folder: path to rows."""
    paths = {
        f"academy={academy.share.academy}/month={month_on:%Y-%m}/{kind}.parquet": rows
        for month_on, kinds in sorted(ledger.months.items())
        for kind, rows in sorted(kinds.items())
    }
    return {path: rows for path, rows in paths.items() if path not in there}


def _write_missing(folder: SharedFolder, ledger: Ledger, academy: Academy, there: frozenset[str]) -> None:
    for path, rows in missing_paths(ledger, academy, there).items():
        out = io.BytesIO()
        rows.write_parquet(out)
        folder.write(path, out.getvalue())


def _facts(con: duckdb.DuckDBPyConnection, academy: Academy) -> _Facts:
    return _Facts(
        _marked(frame(con, "select player_id, sex, birth_year, standard, left_on from player order by player_id"), academy),
        _marked(
            frame(
                con,
                "select player_id, metric, session_id, on_date, level from driver_level "
                "order by player_id, metric, on_date, session_id",
            ),
            academy,
        ),
        _blocks(con, academy),
        frame(
            con,
            "select player_id, on_date, device_id, n_shots, ball_speed_mps_n, offline_m_n from session_club where club_group = ?",
            ["driver"],
        ),
        frame(con, "select received_at, n_rows, n_quarantined from file"),
    )


def _marked(rows: pl.DataFrame, academy: Academy) -> pl.DataFrame:
    marks = {player: keyed_mark(academy.id_key, player) for player in rows["player_id"].unique()}
    told = pl.col("player_id").replace_strict(marks, return_dtype=pl.String)
    return rows.with_columns(told.alias("mark")).drop("player_id")


def _blocks(con: duckdb.DuckDBPyConnection, academy: Academy) -> pl.DataFrame:
    """Speed blocks with a known change, in per cent [100 ln]."""
    phases = frame(
        con,
        "select player_id, phase, began_on, ended_on, speed_before_mps, speed_after_mps, speed_change_low_mps, "
        "speed_change_high_mps from phase order by player_id, began_on",
    )
    wanted = [name.strip().casefold() for name in academy.share.speed_phase.split(";")]
    known = phases.filter(pl.col("phase").str.to_lowercase().is_in(wanted), pl.col("speed_change_low_mps").is_not_null())
    half = (pl.col("speed_change_high_mps") - pl.col("speed_change_low_mps")) / 2
    marks = [keyed_mark(academy.id_key, player, day.isoformat()) for player, day in known.select("player_id", "began_on").rows()]
    effects = known.with_columns(
        pl.Series("block", marks, dtype=pl.String),
        (100.0 * (pl.col("speed_after_mps") / pl.col("speed_before_mps")).log()).alias("effect_pct"),
        (100.0 * half / interval_factor() / pl.col("speed_before_mps")).alias("error_pct"),
    )
    columns = ("mark", "block", "began_on", "ended_on", "effect_pct", "error_pct")
    return _marked(effects, academy).select(columns).filter(pl.col("error_pct") > 0)
