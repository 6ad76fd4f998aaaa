"""Keys of rows as text."""

from __future__ import annotations

import polars as pl


def row_key(columns: tuple[str, ...]) -> pl.Expr:
    """The key of each row as text; what is missing is empty. Null when all of it is missing."""
    parts = [pl.col(name).cast(pl.String).fill_null("") for name in columns]
    present = pl.any_horizontal(pl.col(name).is_not_null() for name in columns)
    return pl.when(present).then(pl.concat_str(parts, separator="|"))


def same_in(one: str, other: str, columns: tuple[str, ...]) -> str:
    """SQL: rows of two tables agree in these columns, where what is missing agrees with what is missing."""
    return " and ".join(f'{one}."{name}" is not distinct from {other}."{name}"' for name in columns)
