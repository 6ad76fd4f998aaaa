"""The contract of a kind of file as a pandera schema; import this only where a frame breaks it: pandera is slow to load."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import pandera.polars as pa
import polars as pl

from schemas.fields import POLARS_TYPE
from schemas.files import KINDS
from schemas.files.rules import conditions

if TYPE_CHECKING:
    from collections.abc import Callable

    from schemas.files import FileKind, RowRule


def _cell(holds: Callable[[pl.Expr], pl.Expr]) -> Any:
    def check(data: pa.PolarsData) -> pl.LazyFrame:
        return data.lazyframe.select(holds(pl.col(data.key)))

    return check


def _row(rule: RowRule) -> Any:
    def check(data: pa.PolarsData) -> pl.LazyFrame:
        return data.lazyframe.select(rule.holds.fill_null(value=True).alias(rule.code))

    return check


@cache
def contract(kind_name: str) -> pa.DataFrameSchema:
    """The pandera schema of a kind of file: typed columns (all of them, absent ones filled with null), and rows.

    Validate a collected frame, lazily (``schema.validate(frame, lazy=True)``); every failure names its rule's code in
    ``check`` and the row in ``index``. Uniqueness is not part of it: the intake keeps the first of equal keys itself.
    """
    kind: FileKind = KINDS[kind_name]
    return pa.DataFrameSchema(
        {
            column.name: pa.Column(
                POLARS_TYPE[column.field.kind],
                nullable=not column.required,
                checks=[pa.Check(_cell(holds), error=code) for code, holds in conditions(column.field)],
            )
            for column in kind.columns
        },
        checks=[pa.Check(_row(rule), name=rule.code, error=rule.code) for rule in kind.rules],
        name=kind.name,
        strict=True,
    )
