"""Spread within sessions: summaries in, ``month_spread`` and ``recent_spread`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.scatter.pooled import month_spread, recent_spread
from schemas.core.summaries import MONTH_SPREAD, RECENT_SPREAD
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_SESSIONS = "select * from normal_session order by player_id, club_group, on_date, session_id"
_RECENT = "select * from recent_drive_session order by player_id, session_id"


def measure_spread(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write spread by month and of the last 28 days; call it after load, whose table says which day is the last."""
    months, recent = month_spread(frame(con, _SESSIONS)), recent_spread(frame(con, _RECENT))
    with transaction(con):
        replace_table(con, MONTH_SPREAD.name, months.select(MONTH_SPREAD.names))
        replace_table(con, RECENT_SPREAD.name, recent.select(RECENT_SPREAD.names))
