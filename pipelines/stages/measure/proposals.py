"""Trials on the trade-off map: arms and the newest driver pattern in, ``tradeoff_proposal`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.tradeoff.proposals import proposals
from schemas.core.proposals import TRADEOFF_PROPOSAL
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_TRIED = "select * from tried_drive order by player_id, trial_id, arm"


def measure_proposals(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write where each arm would lead; call it after patterns and trials, whose rows end on the right day."""
    found = proposals(frame(con, _TRIED))
    with transaction(con):
        replace_table(con, TRADEOFF_PROPOSAL.name, found.select(TRADEOFF_PROPOSAL.names))
