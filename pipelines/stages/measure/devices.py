"""Devices of a month: sessions of the trends and the offsets in force in, offsets by player, club and month out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.device.months import METRICS, device_months
from warehouse.connection import frame

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import polars as pl

_SESSIONS = """
select player_id, club, metric, on_date, device_id, "offset", n from device_session
where list_contains(?, metric) and on_date <= ?
order by player_id, club, metric, on_date, session_id
"""
_OFFSETS = "select device_id, metric, from_on, error from device_offset order by device_id, metric, from_on"


def devices_by_month(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    """What is taken off a player's months (:func:`device_months`); call it after the trends."""
    return device_months(frame(con, _SESSIONS, [list(METRICS), as_of]), frame(con, _OFFSETS))
