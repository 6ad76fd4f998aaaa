"""The contracts of shared files as pandera schemas, which is loaded when a file is looked at: it is slow to load."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import polars as pl

from schemas.shared import RULES

if TYPE_CHECKING:
    import pandera.polars as pa

    from schemas.files.kind import RowRule
    from schemas.tables import Table


def _row(rule: RowRule) -> Any:
    def check(data: pa.PolarsData) -> pl.LazyFrame:
        return data.lazyframe.select(rule.holds.fill_null(value=True).alias(rule.code))

    return check


@cache
def _schema(table: Table) -> pa.DataFrameSchema:
    import pandera.polars as pa  # noqa: PLC0415 - slow to load

    return pa.DataFrameSchema(
        {column.name: pa.Column(column.polars_type, nullable=not column.required) for column in table.columns},
        checks=[pa.Check(_row(rule), name=rule.code, error=rule.code) for rule in RULES[table.name]],
        unique=list(table.grain),
        name=table.name,
        strict=True,
        ordered=True,
    )


def broken_rule(table: Table, rows: pl.DataFrame) -> str:
    """What is wrong with rows that claim to keep a contract, with what to do, in one line; empty: nothing.

    Parameters
    ----------
    table : Table
        One of :mod:`schemas.shared`.
    rows : polars.DataFrame
    """
    import pandera.errors  # noqa: PLC0415 - slow to load

    if rows.schema != table.polars_schema():
        return f"Its columns are {', '.join(rows.columns)}, or of another kind than wanted: {', '.join(table.names)}."
    try:
        _schema(table).validate(rows, lazy=True)
    except pandera.errors.SchemaErrors as faults:
        first = str(faults.schema_errors[0].check or faults.schema_errors[0].reason_code.name.lower())
        known = {rule.code: rule for rule in RULES[table.name]}
        code = next((one for one in known if one in first), "")
        if code:
            return f"{code}: {known[code].columns[0]} must be {known[code].allowed}. {known[code].hint}"
        return f"{first}: a value is missing, or two rows name the same {', '.join(table.grain)}."
    return ""
