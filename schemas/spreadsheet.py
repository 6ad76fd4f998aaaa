"""CSV that a spreadsheet may open: text that it would run as a formula gets an apostrophe in front, which our reading takes off.

Which text that is: what begins with ``=``, ``+``, ``-``, ``@``, a tab, a carriage return or a line feed, or with the wide forms
of the first four, and is not a plain number; and what would look like such a text once an apostrophe were taken off. So every
text comes back as it was. Parquet and JSON hold text as it is.

Source: OWASP, "CSV Injection", list of leading characters (from memory).
"""

from __future__ import annotations

import re
from datetime import date, datetime

import polars as pl

_RUNS = r"[=+\-@\t\r\n＝＋－＠]"
_NUMBER = r"(?i)^[+-]?(\d+([.,]\d*)*|[.,]\d+)(e[+-]?\d+)?$"
_RISKY, _MARKED, _PLAIN = re.compile(f"'*{_RUNS}"), re.compile(f"'+{_RUNS}"), re.compile(_NUMBER)
_FIRST = frozenset("'=+-@\t\r\n＝＋－＠")
MARK = "'"
SHEET_ERRORS = frozenset(
    {
        *("#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!", "#SPILL!", "#CALC!", "#GETTING_DATA"),
        *("#NV", "#WERT!", "#BEZUG!", "#ZAHL!", "#ÜBERLAUF!", "#KALK!"),
        *(f"Err:{code}" for code in range(501, 541)),
    }
)
"""What spreadsheets write in place of a value that they could not compute, in English and German (ECMA-376 part 1, 18.17.3, for
the first seven; the others from memory)."""


def cell_text(value: object) -> str:
    """A value as a cell of our own files has it: days and times by ISO 8601, truths in small letters, nothing for None."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, datetime | date):
        return value.isoformat()
    return "" if value is None else str(value)


def harmless_text(text: str) -> str:
    """A text as it stands in CSV."""
    is_risky = text and text[0] in _FIRST and _RISKY.match(text) and not _PLAIN.match(text)
    return f"{MARK}{text}" if is_risky else text


def told_text(text: str) -> str:
    """The text that stands in a cell of CSV; the inverse of :func:`harmless_text`."""
    return text[1:] if text.startswith(MARK) and _MARKED.match(text) else text


def harmless(rows: pl.DataFrame) -> pl.DataFrame:
    """Rows as they stand in CSV."""
    text = pl.col(pl.String)
    is_risky = text.str.contains(f"^'*{_RUNS}") & ~text.str.contains(_NUMBER)
    return rows.with_columns(pl.when(is_risky).then(MARK + text).otherwise(text).name.keep())


def told(rows: pl.DataFrame) -> pl.DataFrame:
    """The rows that stand in CSV; the inverse of :func:`harmless`."""
    return rows.with_columns(pl.col(pl.String).str.replace(f"^'('*{_RUNS})", "$1"))


def csv_of(rows: pl.DataFrame) -> str:
    """Rows as CSV for people."""
    return harmless(rows).write_csv()
