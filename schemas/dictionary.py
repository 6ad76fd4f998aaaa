"""The data dictionary as text, made from the contracts: run ``make dictionary`` after changing one."""

from __future__ import annotations

from schemas.core import core_tables
from schemas.files import KINDS, FileColumn, FileKind
from schemas.marts import marts
from schemas.tables import Table

TITLE = """# Data dictionary

Made from the contracts in `schemas/` by `make dictionary`; a test keeps it current.

Inside speedworth everything is in SI units (angles in degrees, spin in revolutions a minute, body height in centimetres).
Right of the target and toward the toe are positive. Ratings run from 0 = none or best to 10 = worst. An empty cell is
unknown, never zero. Instants are UTC, or local time of the academy when written without an offset; days are local days.
"""

_KINDS = """
## Files

The first word of a file's name is its kind: `shots_2026-03-14.csv`. Columns may stand in any order; those marked * are required.
"""

_TABLES = """
## Tables of the warehouse

Rows of files carry `file_id` and `line`: the original in `archive/` and the line in it.
"""

_MARTS = """
## Marts

What pages, listings and `speedworth export marts` read.
"""


def _limits(column: FileColumn) -> str:
    field = column.field
    if field.allowed:
        return " / ".join(field.allowed)
    if field.low is not None and field.high is not None:
        return f"{field.low:g} to {field.high:g}"
    if field.pattern:
        return f"`{field.pattern}`"
    return f"at most {field.longest} characters" if field.kind == "text" else ""


def _row(*cells: str) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"


def _head(*names: str) -> list[str]:
    return [_row(*names), "|" + "---|" * len(names)]


def _file_column(column: FileColumn) -> str:
    field = column.field
    star = "*" if column.required else ""
    return _row(f"`{column.name}`{star}", field.kind, field.unit, _limits(column), field.description, field.source)


def _kind(kind: FileKind) -> list[str]:
    told = [
        f"\n### {kind.name}\n",
        f"{kind.title} Key: {', '.join(kind.key)}. A newer file replaces the rows with the same {', '.join(kind.replaces)}.",
    ]
    if kind.body:
        told.append("Kept only for players with `health_consent`.")
    told += ["", *_head("column", "kind", "unit", "allowed", "meaning", "source of the limits"), *map(_file_column, kind.columns)]
    if kind.rules:
        told += ["", *_head("rule across columns", "reads", "allowed", "source")]
        told += [_row(f"`{rule.code}`", ", ".join(rule.columns), rule.allowed, rule.source) for rule in kind.rules]
    return told


def _table(table: Table) -> list[str]:
    rows = [
        _row(f"`{column.name}`{'*' if column.required else ''}", column.kind, column.unit, column.description)
        for column in table.columns
    ]
    readers = f" Read by the pages of: {', '.join(table.readers)}." if table.name.startswith("mart_") else ""
    return [
        f"\n### {table.name}\n",
        f"{table.title} One row for each {', '.join(table.grain)}.{readers}",
        "",
        *_head("column (* never null)", "kind", "unit", "meaning"),
        *rows,
    ]


def dictionary_text() -> str:
    """The whole dictionary as Markdown."""
    lines = [TITLE.rstrip(), _KINDS.rstrip()]
    for kind in KINDS.values():
        lines += _kind(kind)
    lines.append(_TABLES.rstrip())
    for _, table in sorted(core_tables().items()):
        lines += _table(table)
    lines.append(_MARTS.rstrip())
    for _, mart in sorted(marts().items()):
        lines += _table(mart)
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(dictionary_text(), end="")  # noqa: T201 - the Makefile sends it into the file
