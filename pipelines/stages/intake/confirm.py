"""Corrections that take something away, or move a session or a name: held until somebody confirms them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.stages.intake.check import EMPTIED
from pipelines.stages.intake.people import folded
from pipelines.stages.intake.table import Unread
from pipelines.stages.intake.verdict import PROBLEM_COLUMNS, BatchVerdict, file_problem
from warehouse.files import aliases, owners_of_sessions
from warehouse.usual_shots import filled_columns

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

    from pipelines.stages.intake.batch import Incoming
    from schemas.files import FileKind
    from warehouse.files import KnownFile

_MOST_TOLD = 3


class ToConfirmError(Exception):
    """Files of a batch would take something away; nothing of the batch was kept.

    Attributes
    ----------
    told : dict
        ``file_id`` to what would change.
    """

    def __init__(self, told: dict[str, str]) -> None:
        super().__init__("; ".join(told.values()))
        self.told = told


def whose(con: duckdb.DuckDBPyConnection, kind: FileKind, rows: pl.DataFrame) -> pl.DataFrame:
    """Whose these sessions are, what everybody is called, or what their shots tell, before rows are loaded; nothing of others."""
    if kind.name == "shots":
        return filled_columns(con, rows["session_id"], _optional(kind))
    if kind.name == "sessions":
        return owners_of_sessions(con, rows["session_id"])
    return aliases(con) if kind.name == "players" else pl.DataFrame()


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
    told: dict[str, list[str]] = {}
    if kind.name == "shots":
        for file_id, part, n_brought, n_replaced in shrunk.iter_rows():
            told.setdefault(file_id, []).append(_fewer(part, n_brought, n_replaced))
        for file_id, line in _emptied_columns(con, kind, before):
            told.setdefault(file_id, []).append(line)
    moved = {"sessions": _moved_sessions, "players": _moved_names}.get(kind.name)
    for file_id, line in moved(con, before) if moved and not before.is_empty() else ():
        told.setdefault(file_id, []).append(line)
    unconfirmed = {file_id: _shown(lines) for file_id, lines in told.items() if file_id in open_ones}
    if unconfirmed:
        raise ToConfirmError(unconfirmed)


def would_take_away(con: duckdb.DuckDBPyConnection, kind: FileKind, good: pl.DataFrame, replaced: pl.Series) -> str:
    """What a file that is not loaded would take away or move, as it would be held for; empty when nothing.

    Parameters
    ----------
    con : duckdb connection
    kind : FileKind
    good : polars.DataFrame
        Rows that would load.
    replaced : polars.Series
        Sessions of which they would replace an older version.
    """
    if replaced.is_empty():
        return ""
    if kind.name == "sessions":
        both = owners_of_sessions(con, replaced).join(good, on="session_id", suffix="_now").sort("session_id")
        changed = both.filter(pl.col("player_id") != pl.col("player_id_now"))
        return _shown([_moved(*row) for row in changed.select("session_id", "player_id_now", "player_id").iter_rows()])
    return _shown(_taken_shots(con, kind, good, replaced)) if kind.name == "shots" else ""


def _taken_shots(con: duckdb.DuckDBPyConnection, kind: FileKind, good: pl.DataFrame, replaced: pl.Series) -> list[str]:
    names = [name for name in _optional(kind) if name in good.columns]
    brought = good.group_by("session_id").agg(pl.len().alias("n"), *(pl.col(name).count() for name in names))
    both = filled_columns(con, replaced, _optional(kind)).join(brought, on="session_id", suffix="_now").sort("session_id")
    told = []
    for row in both.iter_rows(named=True):
        fewer = row["n_now"] < row["n"]
        told += [_fewer(row["session_id"], row["n_now"], row["n"])] if fewer else []
        told += _without(kind, row)
    return told


def _fewer(session_id: str, n_brought: int, n_replaced: int) -> str:
    return f"{session_id}: {n_brought} shots in place of {n_replaced}"


def _without(kind: FileKind, row: Mapping[str, Any]) -> list[str]:
    """Columns that shots of a session had, and of which the new ones tell nothing, in one line; none where there are none."""
    lost = [name for name in _optional(kind) if row[name] and not row.get(f"{name}_now")]
    return [f"{row['session_id']}: no {', no '.join(lost)}, which {row['n']} shots had so far"] if lost else []


def _moved(session_id: str, after: str, was: str) -> str:
    return f"{session_id}: of {after} in place of {was}"


def _optional(kind: FileKind) -> tuple[str, ...]:
    return tuple(name for name in kind.names if name not in (*kind.required, *kind.key))


def _emptied_columns(con: duckdb.DuckDBPyConnection, kind: FileKind, before: pl.DataFrame) -> list[tuple[str, str]]:
    """Sessions that other shots stand for now, of which none has a value in columns that were filled: what was read is lost."""
    if before.is_empty():
        return []
    now = filled_columns(con, before["session_id"], _optional(kind))
    both = before.join(now, on="session_id", suffix="_now").filter(pl.col("file_id") != pl.col("file_id_now")).sort("session_id")
    return [(row["file_id_now"], line) for row in both.iter_rows(named=True) for line in _without(kind, row)]


def _moved_sessions(con: duckdb.DuckDBPyConnection, before: pl.DataFrame) -> list[tuple[str, str]]:
    """Sessions that have changed hands: the file that says so, and what it says."""
    both = before.join(owners_of_sessions(con, before["session_id"]), on="session_id", suffix="_now")
    changed = both.filter(pl.col("player_id") != pl.col("player_id_now")).sort("session_id")
    rows = changed.select("file_id_now", "session_id", "player_id_now", "player_id").iter_rows()
    return [(file_id, _moved(session_id, after, was)) for file_id, session_id, after, was in rows]


def _moved_names(con: duckdb.DuckDBPyConnection, before: pl.DataFrame) -> list[tuple[str, str]]:
    """Players who are called now what another one was called: as if ids had been given out anew, or lines had slipped."""
    plain = pl.col("alias").map_elements(folded, return_dtype=pl.String).alias("plain")
    was, now = before.with_columns(plain), aliases(con).with_columns(plain)
    both = was.join(now, on="player_id", suffix="_now").filter(pl.col("plain") != pl.col("plain_now"))
    taken = was.select(pl.col("plain").alias("plain_now"), pl.col("player_id").alias("other"))
    changed = both.join(taken, on="plain_now").sort("player_id", "other").unique("player_id", keep="first", maintain_order=True)
    rows = changed.select("file_id_now", "player_id", "alias_now", "alias", "other").iter_rows()
    return [
        (file_id, f"{player_id}: {after} in place of {name}, as {other} was called")
        for file_id, player_id, after, name, other in rows
    ]


def _shown(lines: list[str]) -> str:
    more = f"; and {len(lines) - _MOST_TOLD} more" if len(lines) > _MOST_TOLD else ""
    return "; ".join(lines[:_MOST_TOLD]) + more


def held_to_confirm(verdict: BatchVerdict, told: dict[int, str]) -> BatchVerdict:
    """The verdict with these files of the batch (by their position) held, and what they would change as their problem."""
    files = tuple(
        replace(file, n_loaded=0, n_quarantined=file.n_rows, n_emptied=0, reason="needs_confirming") if at in told else file
        for at, file in enumerate(verdict.files)
    )
    held = pl.col("file").is_in(list(told))
    own = [file_problem(at, Unread("needs_confirming", text)) for at, text in told.items()]
    severity = pl.when(held & (pl.col("severity") == EMPTIED)).then(pl.lit("error")).otherwise("severity").alias("severity")
    problems = pl.concat([pl.DataFrame(own, schema=PROBLEM_COLUMNS), verdict.problems.with_columns(severity)])
    return replace(verdict, files=files, problems=problems, good=verdict.good.filter(~held))
