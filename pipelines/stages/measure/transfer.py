"""Transfer: normal swings in, ``transfer_month`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.transfer.months import transfer_by_month
from pipelines.stages.measure.normal_swings import normal_swings
from schemas.core.ball import TRANSFER_MONTH
from warehouse.connection import replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy


def measure_transfer(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - all stages are called alike
    """Write what became of club speed for every player, club and month up to ``as_of``."""
    months = transfer_by_month(normal_swings(con, as_of), TRANSFER_MONTH.polars_schema())
    with transaction(con):
        replace_table(con, TRANSFER_MONTH.name, months)
