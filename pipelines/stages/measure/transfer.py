"""Transfer: normal swings in, ``transfer_month`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.transfer.months import transfer_by_month
from pipelines.stages.stale import ASKED, MONTH, Apart, Read, renew
from schemas.core.ball import TRANSFER_MONTH

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import duckdb
    import polars as pl

    from schemas.academy import Academy


def transfers_of_players(as_of: date) -> Apart:
    """What became of club speed: of a player's month, which is held against the months before it."""
    swings = Read("comparable_swing", ("player_id", "on_date", "session_id", "shot_no"), ("on_date", as_of))
    days = {TRANSFER_MONTH.name: "month_on"}
    return Apart("transfer", (TRANSFER_MONTH,), {"swings": swings}, transfer_rows, "", MONTH, days=days)


def transfer_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``transfer_month``."""
    return {TRANSFER_MONTH.name: transfer_by_month(read["swings"], TRANSFER_MONTH.polars_schema(), read[ASKED])}


def measure_transfer(con: duckdb.DuckDBPyConnection, _academy: Academy, as_of: date) -> None:
    """Write what became of club speed for every player, club and month up to ``as_of``."""
    renew(con, transfers_of_players(as_of))
