"""The shots that stand for a player's normal swing, with comparable carry and speed ratio: read by several measures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from warehouse.connection import frame

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import polars as pl

_NORMAL = "select * from comparable_swing where on_date <= ? order by player_id, on_date, session_id, shot_no"


def normal_swings(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    """Counting shots of normal swings up to ``as_of``, in order of player and time."""
    return frame(con, _NORMAL, [as_of])
