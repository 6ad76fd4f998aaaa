"""What a kind of file is: its columns, its key, its rules across columns, and what a newer file replaces."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import polars as pl

from schemas.fields import FIELDS, POLARS_TYPE, Field


@dataclass(frozen=True)
class FileColumn:
    """One column of a kind of file.

    Attributes
    ----------
    name : str
        As it stands in the header.
    field : Field
        The quantity behind it.
    required : bool
        The column must be there and no cell may be empty.
    """

    name: str
    field: Field
    required: bool


@dataclass(frozen=True)
class RowRule:
    """One rule across the columns of a row.

    Attributes
    ----------
    code : str
        Stable code, as it stands in quarantine lists.
    columns : tuple of str
        Columns that it reads; the first is named in the problem.
    holds : polars.Expr
        True where the row is fine. Null counts as fine: what is missing cannot break a rule, unless the rule is about missing.
    allowed, hint, source : str
        In words for the person who reads the problem.
    """

    code: str
    columns: tuple[str, ...]
    holds: pl.Expr
    allowed: str
    hint: str
    source: str


@dataclass(frozen=True)
class Reference:
    """A column that must name a row that exists: ``unknown_player`` and the like.

    Attributes
    ----------
    column, kind : str
        The column here, and the kind of file whose key it names.
    code : str
        Code of the problem.
    """

    column: str
    kind: str
    code: str


@dataclass(frozen=True)
class FileKind:
    """One kind of file.

    Attributes
    ----------
    name : str
        First word of the file name, and plural: ``shots``.
    table : str
        Core table that it fills, singular: ``shot``.
    title : str
        What one row is.
    columns : tuple of FileColumn
        In the order of the documentation; files may have them in any order.
    key : tuple of str
        Names one row. Within one file the first of equal keys stays, later ones are problems (``duplicate``).
    replaces : tuple of str
        A newer file replaces all earlier rows that agree with one of its rows in these columns.
    rules : tuple of RowRule
    references : tuple of Reference
    overlaps_on : tuple of str
        Two files speak of the same when they agree in these columns for one row; empty: in the key. Two files of the
        same session without a common shot number are parts of it, and both stay.
    body : bool
        Rows are about the body: they are kept only for players with health_consent.
    fills : str
        What a newer row takes over from the one that it replaces: ``empty cells``, ``absent columns``, or nothing.
    day : str
        The column with the day that a row speaks of, when what it says is known by then; empty: none, or it is an instant.
    """

    name: str
    table: str
    title: str
    columns: tuple[FileColumn, ...]
    key: tuple[str, ...]
    replaces: tuple[str, ...]
    rules: tuple[RowRule, ...] = ()
    references: tuple[Reference, ...] = ()
    overlaps_on: tuple[str, ...] = ()
    body: bool = False
    fills: Literal["", "empty cells", "absent columns"] = ""
    day: str = ""

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(column.name for column in self.columns)

    @property
    def is_named_by_flag(self) -> bool:
        """Whether a row may name its player through a flag alone, so that nobody is found in it by ``player_id``."""
        return "flag_id" in self.names

    @cached_property
    def required(self) -> tuple[str, ...]:
        """Names of the required columns."""
        return tuple(column.name for column in self.columns if column.required)

    def column(self, name: str) -> FileColumn:
        """The column of that name.

        Raises
        ------
        KeyError
            When this kind has no such column.
        """
        return self._by_name[name]

    @cached_property
    def _by_name(self) -> dict[str, FileColumn]:
        return {column.name: column for column in self.columns}

    def polars_schema(self) -> dict[str, pl.DataType]:
        """Column name to polars type."""
        return {column.name: POLARS_TYPE[column.field.kind] for column in self.columns}


def columns(required: str, optional: str = "", **renamed: str) -> tuple[FileColumn, ...]:
    """Columns from two lists of names; ``renamed`` gives the field of a column that is called otherwise in the file."""

    def one(name: str, is_required: bool) -> FileColumn:
        return FileColumn(name, FIELDS[renamed.get(name, name)], is_required)

    return tuple(one(name, True) for name in required.split()) + tuple(one(name, False) for name in optional.split())
