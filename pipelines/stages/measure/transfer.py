"""Transfer: what months of normal swings tell by themselves in, ``transfer_month`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.device.months import DEVICE_ERROR_M, without_devices
from pipelines.measures.transfer.months import transfer_by_month
from pipelines.stages.measure.devices import devices_by_month
from pipelines.stages.stale import ASKED, MONTH, Apart, Read, renew
from schemas.core.ball import TRANSFER_MONTH
from schemas.core.transfer import TRANSFER_LEVEL

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import duckdb

    from schemas.academy import Academy


def transfers_of_players(con: duckdb.DuckDBPyConnection, as_of: date) -> Apart:
    """What became of club speed: of a player's month, devices taken off, held against the months before it."""
    levels = Read(TRANSFER_LEVEL.name, TRANSFER_LEVEL.grain, ("month_on", as_of))
    reads: dict[str, Read | pl.DataFrame] = {"levels": levels, "devices": devices_by_month(con, as_of)}
    return Apart("transfer", (TRANSFER_MONTH,), reads, transfer_rows, "", MONTH, days={TRANSFER_MONTH.name: "month_on"})


def transfer_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``transfer_month``."""
    carry_error = (pl.col("carry_error_m") ** 2 + pl.col(DEVICE_ERROR_M) ** 2).sqrt()
    levels = without_devices(read["levels"], read["devices"]).with_columns(carry_error.alias("carry_error_m"))
    return {TRANSFER_MONTH.name: transfer_by_month(levels, TRANSFER_MONTH.polars_schema(), read[ASKED])}


def measure_transfer(con: duckdb.DuckDBPyConnection, _academy: Academy, as_of: date) -> None:
    """Write what became of club speed; call it after patterns and trends."""
    renew(con, transfers_of_players(con, as_of))
