"""Transfer: what months of normal swings tell by themselves in, ``transfer_month`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.transfer.months import transfer_by_month
from pipelines.stages.stale import ASKED, MONTH, Apart, Read
from schemas.core.ball import TRANSFER_MONTH
from schemas.core.transfer import TRANSFER_LEVEL

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import polars as pl


def transfers_of_players(as_of: date) -> Apart:
    """What became of club speed: of a player's month, held against the months before it."""
    levels = Read(TRANSFER_LEVEL.name, TRANSFER_LEVEL.grain, ("month_on", as_of))
    return Apart(
        "transfer", (TRANSFER_MONTH,), {"levels": levels}, transfer_rows, "", MONTH, days={TRANSFER_MONTH.name: "month_on"}
    )


def transfer_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``transfer_month``."""
    return {TRANSFER_MONTH.name: transfer_by_month(read["levels"], TRANSFER_MONTH.polars_schema(), read[ASKED])}
