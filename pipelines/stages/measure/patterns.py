"""Patterns: normal swings in, ``pattern_month`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.scatter.months import patterns_by_month
from pipelines.stages.measure.normal_swings import normal_swings
from schemas.core.ball import PATTERN_MONTH
from warehouse.connection import replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy


def measure_patterns(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - all stages are called alike
    """Write the pattern of every player, group of clubs and month up to ``as_of``."""
    months = patterns_by_month(normal_swings(con, as_of), PATTERN_MONTH.polars_schema())
    with transaction(con):
        replace_table(con, PATTERN_MONTH.name, months)
