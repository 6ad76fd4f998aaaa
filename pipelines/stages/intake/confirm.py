"""Corrections that take something away: held until somebody confirms them, with what would change."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.check import EMPTIED
from pipelines.stages.intake.table import Unread
from pipelines.stages.intake.verdict import PROBLEM_COLUMNS, BatchVerdict, file_problem
from warehouse.files import owners_of_sessions

if TYPE_CHECKING:
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


def require_confirmed(
    con: duckdb.DuckDBPyConnection,
    kind: FileKind,
    batch: list[Incoming],
    earlier: dict[str, KnownFile],
    shrunk: pl.DataFrame,
    owners: pl.DataFrame | None,
) -> None:
    """Refuse a batch with files that take shots away, or a session from its player, and that nobody has confirmed.

    Call it within the transaction, after the rows were loaded.

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
            told.setdefault(file_id, []).append(f"{part}: {n_brought} shots in place of {n_replaced}")
    for file_id, session_id, before, after in _moved(con, owners):
        told.setdefault(file_id, []).append(f"{session_id}: of {after} in place of {before}")
    unconfirmed = {file_id: _shown(lines) for file_id, lines in told.items() if file_id in open_ones}
    if unconfirmed:
        raise ToConfirmError(unconfirmed)


def _moved(con: duckdb.DuckDBPyConnection, owners: pl.DataFrame | None) -> list[tuple[str, str, str, str]]:
    """``file_id``, ``session_id``, player before and after, of sessions that have changed hands."""
    if owners is None or owners.is_empty():
        return []
    now = owners_of_sessions(con, owners["session_id"])
    both = owners.join(now, on="session_id", suffix="_now").filter(pl.col("player_id") != pl.col("player_id_now"))
    return both.sort("session_id").select("file_id_now", "session_id", "player_id", "player_id_now").rows()


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
