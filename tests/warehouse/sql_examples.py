"""Examples of views, marts and audits: given rows -> expected rows, kept as text tables in ``examples/NAME.toml``.

How one is written stands in DEVELOPERS.md under *An example of a view*.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import sqlglot
from sqlglot import exp

from warehouse.migrate import audits, migrate, views

if TYPE_CHECKING:
    from collections.abc import Iterator

FOLDER = Path(__file__).parent / "examples"
_RANGE = re.compile(r"^(-?\d+)\.\.(-?\d+)$")
_KEYS = {"case", "equivalent"}
_CASE_KEYS = {"says", "given", "rows"}

Row = tuple[str | None, ...]


@dataclass(frozen=True)
class TextTable:
    """Rows as text: an empty cell, or ``-``, is null; ``''`` is an empty text."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Case:
    says: str
    given: dict[str, TextTable]
    expected: TextTable


@dataclass(frozen=True)
class Example:
    """What stands in one file."""

    name: str
    cases: tuple[Case, ...]
    equivalents: dict[str, str]


@dataclass(frozen=True)
class Query:
    """The query behind a view or an audit, as a tree."""

    name: str
    tree: exp.Expression

    @property
    def sql(self) -> str:
        return self.tree.sql(dialect="duckdb")


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in re.split(r"\s\|(?=\s)", f" {line} ")]


def _expanded(cells: list[str]) -> Iterator[list[str]]:
    """The row once for each number of the range ``A..B`` that its cells may hold; all ranges count together."""
    ranges = [(int(found[1]), int(found[2])) for cell in cells if (found := _RANGE.match(cell))]
    if not ranges:
        yield cells
        return
    for step in range(ranges[0][1] - ranges[0][0] + 1):
        yield [str(int(found[1]) + step) if (found := _RANGE.match(cell)) else cell for cell in cells]


def text_table(text: str) -> TextTable:
    """A table written as lines with ``|`` between the cells, the names of the columns first.

    A wide one is written on its side: a first line that begins with ``:``, then a line for each column.
    """
    lines = [_cells(line) for line in text.splitlines() if line.strip()]
    for cells in lines:
        assert len(cells) == len(lines[0]), f"{len(cells)} cells under {len(lines[0])} columns: {cells}"
    if lines[0][0] == ":":
        lines = [list(cells) for cells in zip(*lines[1:], strict=True)]
    rows = (cells for line in lines[1:] for cells in _expanded(line))
    read = (tuple(None if cell in {"", "-"} else "" if cell == "''" else cell for cell in cells) for cells in rows)
    return TextTable(tuple(lines[0]), tuple(read))


def example_names() -> set[str]:
    return {path.stem for path in FOLDER.glob("*.toml")}


@cache
def example(name: str) -> Example:
    """The example of a view, a mart or an audit."""
    content = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    assert set(content) <= _KEYS, f"{name}.toml: unknown {set(content) - _KEYS}"
    cases = []
    for case in content["case"]:
        assert set(case) == _CASE_KEYS, f"{name}.toml: a case has {sorted(_CASE_KEYS)}, this one {sorted(case)}"
        given = {table: text_table(text) for table, text in case["given"].items()}
        cases.append(Case(case["says"], given, text_table(case["rows"])))
    equivalents = {entry["mutant"]: entry["because"] for entry in content.get("equivalent", [])}
    return Example(name, tuple(cases), equivalents)


@cache
def queries() -> dict[str, Query]:
    """The query of every view, mart and audit."""
    found = {}
    for script in (*views(), *audits()):
        tree = sqlglot.parse_one(script.sql, read="duckdb")
        found[script.name] = Query(script.name, tree.expression.pop() if isinstance(tree, exp.Create) else tree)
    return found


def empty_warehouse() -> duckdb.DuckDBPyConnection:
    """A warehouse in memory, migrated, whose tables take rows with any column left out."""
    con = duckdb.connect(":memory:")
    con.execute("set timezone = 'UTC'")
    con.execute("set enable_progress_bar = false")
    con.execute("set threads = 1")
    migrate(con)
    needed = con.execute(
        "select table_name, column_name from duckdb_columns() join duckdb_tables() using (table_name) where not is_nullable"
    ).fetchall()
    for table, column in needed:
        con.execute(f'alter table "{table}" alter column "{column}" drop not null')
    return con


def lay(con: duckdb.DuckDBPyConnection, case: Case) -> None:
    """Put the given rows into their tables; the rows given of a view stand in its place. Call it within a transaction."""
    known_views = {script.name for script in views()}
    for table, rows in case.given.items():
        if table in known_views:
            con.execute(f'create temp table "{table}" as from main."{table}" limit 0')
        names = ", ".join(f'"{column}"' for column in rows.columns)
        marks = ", ".join("?" for _ in rows.columns)
        if rows.rows:
            con.executemany(f'insert into "{table}" ({names}) values ({marks})', [list(row) for row in rows.rows])


def _text(value: Any) -> str | None:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%d %H:%M")
    if isinstance(value, list):
        return "[" + ", ".join(str(_text(item)) for item in value) + "]"
    return None if value is None else str(value)


def _sorted(rows: list[Row]) -> list[Row]:
    return sorted(rows, key=lambda row: tuple((cell is not None, cell or "") for cell in row))


def result_rows(con: duckdb.DuckDBPyConnection, sql: str, columns: tuple[str, ...]) -> list[Row]:
    """The rows of a query as text, in one order, with these columns."""
    names = ", ".join(f'"{column}"' for column in columns)
    return _sorted(
        [tuple(_text(value) for value in row) for row in con.execute(f"select {names} from ({sql}) as told").fetchall()]
    )


def expected_rows(con: duckdb.DuckDBPyConnection, sql: str, expected: TextTable) -> list[Row]:
    """The rows that the example expects, in the order and with the text of :func:`result_rows`."""
    names = ", ".join(f'"{column}"' for column in expected.columns)
    kinds = [str(column[1]) for column in con.execute(f"select {names} from ({sql}) as told limit 0").description]
    return _sorted(
        [
            tuple(
                _text(float(cell)) if cell and kind in {"DOUBLE", "FLOAT"} else cell
                for cell, kind in zip(row, kinds, strict=True)
            )
            for row in expected.rows
        ]
    )
