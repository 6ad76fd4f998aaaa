"""The contract of a kind of file as a pandera schema; import this only where frames are validated: pandera is slow to load."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import pandera.polars as pa
import polars as pl

from schemas.fields import POLARS_TYPE, Field
from schemas.files import KINDS, FileKind, RowRule


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


def _within(low: float, high: float) -> Any:
    def check(data: pa.PolarsData) -> pl.LazyFrame:
        return data.lazyframe.select(pl.col(data.key).is_between(low, high))

    return check


def _one_of(words: tuple[str, ...]) -> Any:
    def check(data: pa.PolarsData) -> pl.LazyFrame:
        return data.lazyframe.select(pl.col(data.key).is_in(list(words)))

    return check


def _matches(pattern: str) -> Any:
    def check(data: pa.PolarsData) -> pl.LazyFrame:
        return data.lazyframe.select(pl.col(data.key).str.contains(pattern))

    return check


def _no_longer_than(longest: int) -> Any:
    def check(data: pa.PolarsData) -> pl.LazyFrame:
        return data.lazyframe.select(pl.col(data.key).str.len_chars() <= longest)

    return check


def _row(rule: RowRule) -> Any:
    def check(data: pa.PolarsData) -> pl.LazyFrame:
        return data.lazyframe.select(rule.holds.fill_null(value=True).alias(rule.code))

    return check


def _checks(field: Field) -> list[pa.Check]:
    checks = []
    if field.low is not None and field.high is not None:
        checks.append(pa.Check(_within(field.low, field.high), error="out_of_range"))
    if field.allowed:
        checks.append(pa.Check(_one_of(field.allowed), error="unknown_word"))
    if field.pattern:
        checks.append(pa.Check(_matches(field.pattern), error=field.code or "unsafe_id"))
    if _is_free_text(field):
        checks.append(pa.Check(_no_longer_than(field.longest), error="too_long"))
    return checks


@cache
def contract(kind_name: str) -> pa.DataFrameSchema:
    """The pandera schema of a kind of file: typed columns (all of them, absent ones filled with null), and rows.

    Validate a collected frame, lazily (``schema.validate(frame, lazy=True)``); every failure names its rule's code in
    ``check`` and the row in ``index``. Uniqueness is not part of it: the intake keeps the first of equal keys itself.
    """
    kind: FileKind = KINDS[kind_name]
    return pa.DataFrameSchema(
        {
            column.name: pa.Column(POLARS_TYPE[column.field.kind], nullable=not column.required, checks=_checks(column.field))
            for column in kind.columns
        },
        checks=[pa.Check(_row(rule), name=rule.code, error=rule.code) for rule in kind.rules],
        name=kind.name,
        strict=True,
    )
