"""What a table or mart promises: its grain, its columns with type, unit and meaning."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from schemas.fields import FIELDS, POLARS_TYPE, SQL_TYPE, ValueKind

_LISTS: dict[str, ValueKind] = {"texts": "text", "numbers": "number"}
"""Kinds that are lists, and of what."""


@dataclass(frozen=True)
class Column:
    """One column of a table or mart.

    Attributes
    ----------
    name : str
    kind : str
        A value kind of :mod:`schemas.fields`, or ``texts`` (a list of text) or ``numbers`` (a list of numbers).
    description : str
    unit : str
        ``""`` where there is none.
    required : bool
        Never null.
    """

    name: str
    kind: ValueKind | str
    description: str
    unit: str = ""
    required: bool = False

    @property
    def polars_type(self) -> pl.DataType:
        """Type of the column in a frame."""
        inner = _LISTS.get(self.kind)
        return pl.List(POLARS_TYPE[inner]) if inner else POLARS_TYPE[self.kind]  # type: ignore[index]

    @property
    def sql_type(self) -> str:
        """Type of the column in the warehouse."""
        inner = _LISTS.get(self.kind)
        return f"{SQL_TYPE[inner]}[]" if inner else SQL_TYPE[self.kind]  # type: ignore[index]


@dataclass(frozen=True)
class Table:
    """One table or mart.

    Attributes
    ----------
    name : str
        Singular; a mart begins with ``mart_``.
    title : str
        What one row is.
    grain : tuple of str
        Columns that name one row.
    columns : tuple of Column
        In the order in which they stand in the warehouse.
    readers : tuple of str
        Audiences whose pages may read a mart: coach, physio, data, player. A page of another audience is refused its rows.
    """

    name: str
    title: str
    grain: tuple[str, ...]
    columns: tuple[Column, ...]
    readers: tuple[str, ...] = ("coach", "physio", "player")

    @property
    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(column.name for column in self.columns)

    def polars_schema(self) -> dict[str, pl.DataType]:
        """Column name to polars type; ``pl.DataFrame(rows, schema=table.polars_schema())`` makes an empty frame right."""
        return {column.name: column.polars_type for column in self.columns}


def known(names: str, required: bool = False) -> tuple[Column, ...]:
    """Columns of known quantities, by their field names."""
    return tuple(
        Column(field.name, field.kind, field.description, field.unit, required)
        for field in (FIELDS[name] for name in names.split())
    )


def number(name: str, unit: str, description: str, required: bool = False) -> Column:
    """A column of numbers with a unit."""
    return Column(name, "number", description, unit, required)


def integer(name: str, description: str, required: bool = False) -> Column:
    """A column of whole numbers."""
    return Column(name, "integer", description, "", required)


def text(name: str, description: str, required: bool = False) -> Column:
    """A column of text."""
    return Column(name, "text", description, "", required)


def truth(name: str, description: str, required: bool = False) -> Column:
    """A column of true and false."""
    return Column(name, "truth", description, "", required)


def day(name: str, description: str, required: bool = False) -> Column:
    """A column of local days."""
    return Column(name, "day", description, "", required)


def instant(name: str, description: str, required: bool = False) -> Column:
    """A column of instants in UTC."""
    return Column(name, "instant", description, "", required)


def texts(name: str, description: str, required: bool = False) -> Column:
    """A column of lists of text."""
    return Column(name, "texts", description, "", required)


def numbers(name: str, unit: str, description: str, required: bool = False) -> Column:
    """A column of lists of numbers with a unit."""
    return Column(name, "numbers", description, unit, required)
