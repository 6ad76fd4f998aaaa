"""A row fault as data: where it is, what is wrong, what is allowed, what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import polars as pl

Severity = Literal["error", "warning", "held"]


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with one row, or with a whole file.

    Attributes
    ----------
    file : str
        Name of the file as it was dropped.
    line : int or None
        Line in the file, the header being line 1. None: the whole file.
    column : str
        Column name, or ``""`` for the whole row or file.
    value : str
        What stood there, as text, at most 200 characters.
    rule : str
        Stable code of the rule, e.g. ``out_of_range``.
    allowed : str
        What is allowed, in words.
    hint : str
        What a person can do about it.
    severity : {"error", "warning", "held"}
        error: the row went to quarantine. warning: the row was loaded and the doubt is kept with it.
        held: the whole file was held.
    """

    file: str
    line: int | None
    column: str
    value: str
    rule: str
    allowed: str
    hint: str
    severity: Severity = "error"


PROBLEM_SCHEMA: dict[str, pl.DataType] = {
    "file": pl.String(),
    "line": pl.Int64(),
    "column": pl.String(),
    "value": pl.String(),
    "rule": pl.String(),
    "allowed": pl.String(),
    "hint": pl.String(),
    "severity": pl.String(),
}
"""A frame of problems, one row each, has these columns in this order."""


def problem_frame(problems: list[Problem]) -> pl.DataFrame:
    """A frame of problems; empty in, empty out with the right columns."""
    return pl.DataFrame([vars(problem) for problem in problems], schema=PROBLEM_SCHEMA)
