"""Decisions about flags: every one ever made, what each was about, and where the flags stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from schemas.core.load_body import DECISION_STATE, DECISION_SUBJECT
from warehouse.connection import frame, insert_frame, replace_table

if TYPE_CHECKING:
    import duckdb
    import polars as pl

_HISTORY = """
select
  decision.decided_on, decision.role, decision.decision, decision.until, decision.note, decision.flag_id,
  decision_subject.kind, decision_subject.region, decision_subject.raised_on, decision_subject.audience
from decision
join decision_subject using (flag_id)
where decision_subject.player_id = ?
order by decision.decided_on, decision.role, decision.flag_id
"""


def decision_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every decision, by flag, day and role."""
    return frame(con, "select flag_id, decided_on, role, decision, until, note from decision order by flag_id, decided_on, role")


def subject_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """What each decided flag was about."""
    return frame(con, "select * from decision_subject order by flag_id")


def player_decisions(con: duckdb.DuckDBPyConnection, player_id: str) -> pl.DataFrame:
    """Decisions about one player, oldest first, each with its flag's kind, region, raised_on and audience."""
    return frame(con, _HISTORY, [player_id])


def remember_subjects(con: duckdb.DuckDBPyConnection) -> int:
    """Keep what newly decided flags are about; returns how many were new. Call it within a transaction, after the flags.

    A flag of today's is taken as it is. One that corrected data no longer raise under this id is taken from what the
    command wrote beside the decision; without that, the decision stays in the list of decisions and says nothing of a flag.
    """
    known = frame(con, "select * from newly_decided order by flag_id")
    return insert_frame(con, DECISION_SUBJECT.name, known)


def replace_decision_states(con: duckdb.DuckDBPyConnection, states: pl.DataFrame) -> None:
    """Put the states of decided flags in place of those that were there; call it within a transaction."""
    replace_table(con, DECISION_STATE.name, states.select(DECISION_STATE.names))
