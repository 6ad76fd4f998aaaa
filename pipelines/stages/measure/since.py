"""Returns to normal: sessions since breaks and changes against the normal before; ``session_since`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.since.sessions import LATEST, days_since, first_day, sessions_since
from pipelines.stages.measure.load import in_contract
from schemas.core.since import SESSION_SINCE
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_STRUCK = "select player_id, on_date from struck_day where on_date <= ? order by player_id, on_date"
_CHANGES = "select player_id, changed_on, kind from named_change where changed_on <= ? order by player_id, changed_on"
_POINTS = """
select player_id, club_group, metric, series, session_id, on_date, value, worthwhile
from trend_point
where on_date between ? and ? and list_contains(?, metric)
"""


def measure_since(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write each session since a break or a named change, up to ``as_of``."""
    days = days_since(frame(con, _STRUCK, [as_of]), frame(con, _CHANGES, [as_of]), as_of)
    points = frame(con, _POINTS, [first_day(days, as_of), as_of, list(LATEST)])
    rows = in_contract(sessions_since(points, days), SESSION_SINCE)
    with transaction(con):
        replace_table(con, SESSION_SINCE.name, rows)
