"""Drives by their ball of the session in, ``within_session`` out."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from pipelines.measures.within_session import within_sessions
from schemas.core.summaries import WITHIN_SESSION
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

HALF_A_YEAR = timedelta(days=183)
_BALLS = """
select player_id, session_id, ball_no, club_speed_mps
from driver_ball
where on_date > ? and on_date <= ?
"""


def measure_within_sessions(con: duckdb.DuckDBPyConnection, _academy: Academy, as_of: date) -> None:
    """Write cold start and tiring of the last half year."""
    found = within_sessions(frame(con, _BALLS, [as_of - HALF_A_YEAR, as_of]), WITHIN_SESSION.polars_schema())
    with transaction(con):
        replace_table(con, WITHIN_SESSION.name, found)
