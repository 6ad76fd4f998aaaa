"""Transfer: normal swings in, ``transfer_month`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.transfer.months import transfer_by_month
from pipelines.stages.stale import ASKED, MONTH, Apart, Read
from schemas.core.ball import TRANSFER_MONTH

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import polars as pl


def transfers_of_players(told: pl.DataFrame, as_of: date) -> Apart:
    """What became of club speed: of a player's month, held against the months before it; ``told``: digests of the swings."""
    swings = Read("comparable_swing", ("player_id", "on_date", "session_id", "shot_no"), ("on_date", as_of), told=False)
    reads: dict[str, Read | pl.DataFrame] = {"swings": swings, "told": told}
    return Apart("transfer", (TRANSFER_MONTH,), reads, transfer_rows, "", MONTH, days={TRANSFER_MONTH.name: "month_on"})


def transfer_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``transfer_month``."""
    return {TRANSFER_MONTH.name: transfer_by_month(read["swings"], TRANSFER_MONTH.polars_schema(), read[ASKED])}
