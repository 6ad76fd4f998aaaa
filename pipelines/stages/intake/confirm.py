"""Corrections that take something away, or move a session or a name: held until somebody confirms them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, timedelta
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.stages.intake.check import EMPTIED
from pipelines.stages.intake.people import folded
from pipelines.stages.intake.table import Unread
from pipelines.stages.intake.verdict import PROBLEM_COLUMNS, BatchVerdict, file_problem
from warehouse.connection import scalar
from warehouse.files import aliases, owners_of_sessions
from warehouse.usual_shots import filled_columns

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    import duckdb

    from pipelines.stages.intake.batch import Incoming
    from schemas.files import FileKind
    from warehouse.files import KnownFile

_MOST_TOLD = 3
_MOST_MOVED = timedelta(hours=12)
"""By a wrong zone, or morning taken for evening, a session moves no further; by more it is taken for another one."""
OTHER_DAY = (
    "Where a device counts its sessions from 1 again, give them ids of their own, by hand or by a mapping with the day in "
    "session_id, and drop the file again; where the time was corrected, confirm it with `speedworth again FILE --accept`."
)


class Doubt(NamedTuple):
    """What a file would change, and what to do where it is not what the rule says."""

    text: str
    hint: str = ""


class ToConfirmError(Exception):
    """Files of a batch would take something away; nothing of the batch was kept.

    Attributes
    ----------
    told : dict
        ``file_id`` to what would change.
    """

    def __init__(self, told: dict[str, Doubt]) -> None:
        super().__init__("; ".join(doubt.text for doubt in told.values()))
        self.told = told


def whose(con: duckdb.DuckDBPyConnection, kind: FileKind, rows: pl.DataFrame) -> pl.DataFrame:
    """Whose these sessions are and when, what everybody is called, or what their shots tell, before rows are loaded.

    Nothing of other kinds. Rows that come together are held against each other as against those that are there.
    """
    if kind.name == "shots":
        return pl.concat([filled_columns(con, rows["session_id"], _optional(kind)), _told_by(kind, _of_several(rows))])
    if kind.name == "sessions":
        there = owners_of_sessions(con, rows["session_id"])
        return pl.concat([there, _of_several(rows).select(there.columns)])
    return aliases(con) if kind.name == "players" else pl.DataFrame()


def _of_several(rows: pl.DataFrame) -> pl.DataFrame:
    """Rows of sessions of which several files speak."""
    told = rows.select("session_id", "file_id").unique().filter(pl.col("session_id").is_duplicated())
    return rows.join(told.select("session_id").unique(), on="session_id", how="semi", maintain_order="left")


def _told_by(kind: FileKind, rows: pl.DataFrame) -> pl.DataFrame:
    """What the shots of each file and session tell, as :func:`warehouse.usual_shots.filled_columns` does of those there."""
    counts = (
        pl.col(name).count().cast(pl.Int64) if name in rows.columns else pl.lit(0, pl.Int64).alias(name)
        for name in _optional(kind)
    )
    own = rows.group_by("session_id", "file_id", maintain_order=True)
    return own.agg(pl.len().cast(pl.Int64).alias("n"), pl.col("struck_at").min().alias("began"), *counts)


def require_confirmed(
    con: duckdb.DuckDBPyConnection,
    kind: FileKind,
    batch: list[Incoming],
    earlier: dict[str, KnownFile],
    shrunk: pl.DataFrame,
    before: pl.DataFrame,
) -> None:
    """Refuse a batch with files that take shots or readings away, or give a session or a name to another player, unconfirmed.

    Call it within the transaction, after the rows were loaded.

    Parameters
    ----------
    con : duckdb connection
    kind : FileKind
    batch : list of Incoming
    earlier : dict
        What is known of files that are tried again.
    shrunk : polars.DataFrame
    before : polars.DataFrame
        From :func:`whose`.

    Raises
    ------
    ToConfirmError
    """
    open_ones = {
        one.file_id
        for one in batch
        if not one.arrival.accepted and not (one.arrival.again in earlier and earlier[one.arrival.again].status != "held")
    }
    told: dict[str, list[Doubt]] = {}
    if kind.name == "shots":
        for file_id, part, n_brought, n_replaced in shrunk.iter_rows():
            told.setdefault(file_id, []).append(Doubt(_fewer(part, n_brought, n_replaced)))
        for file_id, line in _changed_shots(con, kind, before):
            told.setdefault(file_id, []).append(line)
    moved = {"sessions": _moved_sessions, "players": _moved_names}.get(kind.name)
    for file_id, line in moved(con, before) if moved and not before.is_empty() else ():
        told.setdefault(file_id, []).append(line)
    unconfirmed = {file_id: _shown(lines) for file_id, lines in told.items() if file_id in open_ones}
    if unconfirmed:
        raise ToConfirmError(unconfirmed)


def would_take_away(con: duckdb.DuckDBPyConnection, kind: FileKind, good: pl.DataFrame, replaced: pl.Series) -> Doubt | None:
    """What a file that is not loaded would take away or move, as it would be held for; None when nothing.

    Parameters
    ----------
    con : duckdb connection
    kind : FileKind
    good : polars.DataFrame
        Rows that would load.
    replaced : polars.Series
        Sessions of which they would replace an older version.
    """
    if replaced.is_empty() or kind.name not in ("sessions", "shots"):
        return None
    if kind.name == "sessions":
        lines = _moved(con, owners_of_sessions(con, replaced).join(good, on="session_id", suffix="_now").sort("session_id"))
    else:
        now = _told_by(kind, good.with_columns(pl.lit("").alias("file_id")))
        both = filled_columns(con, replaced, _optional(kind)).join(now, on="session_id", suffix="_now").sort("session_id")
        fewer = [
            Doubt(_fewer(*row)) for row in both.filter(pl.col("n_now") < pl.col("n")).select("session_id", "n_now", "n").rows()
        ]
        lines = fewer + [line for _, line in _changed(con, kind, both)]
    return _shown(lines) if lines else None


def _fewer(session_id: str, n_brought: int, n_replaced: int) -> str:
    return f"{session_id}: {n_brought} shots in place of {n_replaced}"


def _without(kind: FileKind, row: Mapping[str, Any]) -> list[str]:
    """Columns that shots of a session had, and of which the new ones tell nothing, in one line; none where there are none."""
    lost = [name for name in _optional(kind) if row[name] and not row.get(f"{name}_now")]
    return [f"{row['session_id']}: no {', no '.join(lost)}, which {row['n']} shots had so far"] if lost else []


def _moved(con: duckdb.DuckDBPyConnection, both: pl.DataFrame) -> list[Doubt]:
    """What of sessions has become another player's, or lies at quite another time."""
    lines = []
    for row in both.iter_rows(named=True):
        if row["player_id"] != row["player_id_now"]:
            lines.append(Doubt(f"{row['session_id']}: of {row['player_id_now']} in place of {row['player_id']}"))
        elif abs(row["started_at_now"] - row["started_at"]) > _MOST_MOVED:
            lines.append(_at_another_time(con, row["session_id"], row["started_at_now"], row["started_at"]))
    return lines


def _at_another_time(con: duckdb.DuckDBPyConnection, session_id: str, after: datetime, was: datetime) -> Doubt:
    zone = ZoneInfo(scalar(con, "select time_zone from academy"))
    told = [f"{time.replace(tzinfo=UTC).astimezone(zone):%Y-%m-%d %H:%M}" for time in (after, was)]
    return Doubt(f"{session_id}: of {told[0]} in place of {told[1]}", OTHER_DAY)


def _optional(kind: FileKind) -> tuple[str, ...]:
    return tuple(name for name in kind.names if name not in (*kind.required, *kind.key))


def _changed_shots(con: duckdb.DuckDBPyConnection, kind: FileKind, before: pl.DataFrame) -> list[tuple[str, Doubt]]:
    """Sessions that other shots stand for now: what was read of them is lost, or they are another visit's."""
    if before.is_empty():
        return []
    now = filled_columns(con, before["session_id"], _optional(kind))
    both = before.join(now, on="session_id", suffix="_now").filter(pl.col("file_id") != pl.col("file_id_now"))
    return list(dict.fromkeys(_changed(con, kind, both.sort("session_id"))))


def _changed(con: duckdb.DuckDBPyConnection, kind: FileKind, both: pl.DataFrame) -> list[tuple[str, Doubt]]:
    """The file that says so, and what it says."""
    told = []
    for row in both.iter_rows(named=True):
        lines = [Doubt(text) for text in _without(kind, row)]
        if abs(row["began_now"] - row["began"]) > _MOST_MOVED:
            lines.append(_at_another_time(con, row["session_id"], row["began_now"], row["began"]))
        told += [(row["file_id_now"], line) for line in lines]
    return told


def _moved_sessions(con: duckdb.DuckDBPyConnection, before: pl.DataFrame) -> list[tuple[str, Doubt]]:
    """Sessions that have changed hands, or moved in time: the file that says so, and what it says."""
    both = before.join(owners_of_sessions(con, before["session_id"]), on="session_id", suffix="_now")
    changed = both.filter(pl.col("file_id") != pl.col("file_id_now")).sort("session_id")
    parts = changed.partition_by("file_id_now", as_dict=True, maintain_order=True)
    return list(dict.fromkeys((str(file_id), line) for (file_id,), part in parts.items() for line in _moved(con, part)))


def _moved_names(con: duckdb.DuckDBPyConnection, before: pl.DataFrame) -> list[tuple[str, Doubt]]:
    """Players who are called now what another one was called: as if ids had been given out anew, or lines had slipped."""
    plain = pl.col("alias").map_elements(folded, return_dtype=pl.String).alias("plain")
    was, now = before.with_columns(plain), aliases(con).with_columns(plain)
    both = was.join(now, on="player_id", suffix="_now").filter(pl.col("plain") != pl.col("plain_now"))
    taken = was.select(pl.col("plain").alias("plain_now"), pl.col("player_id").alias("other"))
    changed = both.join(taken, on="plain_now").sort("player_id", "other").unique("player_id", keep="first", maintain_order=True)
    rows = changed.select("file_id_now", "player_id", "alias_now", "alias", "other").iter_rows()
    return [
        (file_id, Doubt(f"{player_id}: {after} in place of {name}, as {other} was called"))
        for file_id, player_id, after, name, other in rows
    ]


def _shown(lines: list[Doubt]) -> Doubt:
    more = f"; and {len(lines) - _MOST_TOLD} more" if len(lines) > _MOST_TOLD else ""
    hints = {line.hint for line in lines}
    return Doubt("; ".join(line.text for line in lines[:_MOST_TOLD]) + more, max(hints))


def held_to_confirm(verdict: BatchVerdict, told: dict[int, Doubt]) -> BatchVerdict:
    """The verdict with these files of the batch (by their position) held, and what they would change as their problem."""
    files = tuple(
        replace(file, n_loaded=0, n_quarantined=file.n_rows, n_emptied=0, reason="needs_confirming") if at in told else file
        for at, file in enumerate(verdict.files)
    )
    held = pl.col("file").is_in(list(told))
    own = [file_problem(at, Unread("needs_confirming", doubt.text, hint=doubt.hint)) for at, doubt in told.items()]
    severity = pl.when(held & (pl.col("severity") == EMPTIED)).then(pl.lit("error")).otherwise("severity").alias("severity")
    problems = pl.concat([pl.DataFrame(own, schema=PROBLEM_COLUMNS), verdict.problems.with_columns(severity)])
    return replace(verdict, files=files, problems=problems, good=verdict.good.filter(~held))
