"""Which rows break which rules of their contract; import this only where some do: pandera is slow to load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandera.errors
import polars as pl

from schemas.files.contract import contract

if TYPE_CHECKING:
    from schemas.files import FileKind


def broken_rules(kind: FileKind, values: pl.DataFrame) -> pl.DataFrame:
    """What the contract says of a typed frame: ``row``, ``column`` (empty for a row rule), ``rule``."""
    try:
        contract(kind.name).validate(values, lazy=True)
    except pandera.errors.SchemaErrors as fault:
        cases: pl.DataFrame = fault.failure_cases
        if cases["index"].null_count():
            raise RuntimeError(
                f"the contract of {kind.name} could not be applied: {cases.filter(pl.col('index').is_null())}"
            ) from fault
        by_row = pl.col("schema_context") == "DataFrameSchema"
        return cases.select(
            pl.col("index").cast(pl.Int64).alias("row"),
            pl.when(by_row).then(pl.lit("")).otherwise(pl.col("column")).alias("column"),
            pl.col("check").replace({"not_nullable": "empty"}).alias("rule"),
        )
    return pl.DataFrame(schema={"row": pl.Int64(), "column": pl.String(), "rule": pl.String()})
