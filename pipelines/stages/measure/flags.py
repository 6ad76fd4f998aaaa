"""Flags of all nights: the candidates of every area through the one engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.flags.engine import AlertPolicy, flag_history
from warehouse.connection import transaction
from warehouse.flags import all_candidate_rows, replace_flags

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy


def measure_flags(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write all flags up to ``as_of`` and what happened to them; every area has written its candidates before."""
    policy = AlertPolicy(academy.alerts.false_share, academy.alerts.per_week)
    history = flag_history(all_candidate_rows(con), as_of, policy)
    with transaction(con):
        replace_flags(con, history.flags, history.events)
