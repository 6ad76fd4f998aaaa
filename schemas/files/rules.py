"""The rules of a kind of file: as they are told, and as expressions, by which a frame that keeps them all is known at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import polars as pl

from schemas.files import KINDS

if TYPE_CHECKING:
    from collections.abc import Callable

    from schemas.fields import Field
    from schemas.files import FileKind


@dataclass(frozen=True)
class Rule:
    """What one code of a kind's contract says to the person who reads the problem.

    Attributes
    ----------
    code, column : str
        ``column`` is the one named in the problem.
    allowed, hint, source : str
    """

    code: str
    column: str
    allowed: str
    hint: str
    source: str


def _limits(field: Field) -> str:
    unit = f" {field.unit}" if field.unit else ""
    return f"{field.low:g} to {field.high:g}{unit}"


def _is_free_text(field: Field) -> bool:
    """Text that words or a pattern do not hold in bounds already."""
    return field.kind == "text" and not field.allowed and not field.pattern


def _column_rules(name: str, field: Field, required: bool) -> list[Rule]:
    rules = []
    if required:
        rules.append(Rule("empty", name, "a value in every row", "Fill the cell in, or leave the row out.", "required column"))
    if field.low is not None:
        rules.append(Rule("out_of_range", name, _limits(field), "Check the reading and its unit.", field.source))
    if field.allowed:
        rules.append(Rule("unknown_word", name, " / ".join(field.allowed), "Use one of these words.", field.source))
    if field.code:
        rules.append(Rule(field.code, name, field.form, "Write it in this form.", field.source))
    elif field.pattern:
        rules.append(
            Rule(
                "unsafe_id",
                name,
                "letters, digits, _ . - ; begins with a letter or digit; at most 64",
                "Give the row another id.",
                field.source,
            )
        )
    if _is_free_text(field):
        rules.append(Rule("too_long", name, f"at most {field.longest} characters", "Shorten the text.", "readable pages"))
    return rules


@cache
def rules(kind_name: str) -> tuple[Rule, ...]:
    """Every rule of a kind, columns first, then rows: the table behind problems, documentation and tests."""
    kind = KINDS[kind_name]
    found = [rule for column in kind.columns for rule in _column_rules(column.name, column.field, column.required)]
    found += [Rule(rule.code, rule.columns[0], rule.allowed, rule.hint, rule.source) for rule in kind.rules]
    return tuple(found)


def conditions(field: Field) -> tuple[tuple[str, Callable[[pl.Expr], pl.Expr]], ...]:
    """What must hold of a cell that is not empty: the code of the rule, and the expression for a column."""
    found: list[tuple[str, Callable[[pl.Expr], pl.Expr]]] = []
    if field.low is not None and field.high is not None:
        found.append(("out_of_range", lambda cell: cell.is_between(field.low, field.high)))
    if field.allowed:
        found.append(("unknown_word", lambda cell: cell.is_in(list(field.allowed))))
    if field.pattern:
        found.append((field.code or "unsafe_id", lambda cell: cell.str.contains(field.pattern)))
    if _is_free_text(field):
        found.append(("too_long", lambda cell: cell.str.len_chars() <= field.longest))
    return tuple(found)


@cache
def _kept(kind_name: str) -> tuple[pl.Expr, ...]:
    """Whether all cells and rows keep each rule of a kind."""
    kind = KINDS[kind_name]
    kept = [pl.col(column.name).is_not_null() for column in kind.columns if column.required]
    kept += [holds(pl.col(column.name)) for column in kind.columns for _, holds in conditions(column.field)]
    kept += [rule.holds for rule in kind.rules]
    return tuple(one.all().alias(str(at)) for at, one in enumerate(kept))


def keeps_contract(kind: FileKind, values: pl.DataFrame) -> bool:
    """Whether typed rows keep every rule, so that the contract, which is slow to load and to ask, need not be asked.

    Parameters
    ----------
    kind : FileKind
    values : polars.DataFrame, n rows
        Columns and types of the kind; a frame that has others keeps nothing.
    """
    return values.schema == kind.polars_schema() and all(values.select(_kept(kind.name)).row(0))
