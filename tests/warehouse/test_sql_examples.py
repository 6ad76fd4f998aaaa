"""Every view, mart and audit gives what its example expects, and every part of it is needed for that."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import pytest

from tests.warehouse.sql_examples import empty_warehouse, example, example_names, expected_rows, lay, queries, result_rows
from tests.warehouse.sql_mutants import mutants

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.warehouse.sql_examples import Case, Query

NAMES = sorted(example_names() & set(queries()))


@pytest.fixture(scope="module")
def empty() -> Iterator[duckdb.DuckDBPyConnection]:
    con = empty_warehouse()
    yield con
    con.close()


def told_by(con: duckdb.DuckDBPyConnection, sqls: list[str], case: Case) -> list[object]:
    """What each query tells of one case; of a query that the database refuses: None."""
    con.execute("begin")
    try:
        lay(con, case)
        return [_rows(con, sql, case) for sql in sqls]
    finally:
        con.execute("rollback")


def _rows(con: duckdb.DuckDBPyConnection, sql: str, case: Case) -> object:
    try:
        return result_rows(con, sql, case.expected.columns)
    except (duckdb.BinderException, duckdb.ParserException):
        return None
    except duckdb.Error as fault:
        return str(fault)


@pytest.mark.parametrize("name", NAMES)
def test_given_rows_give_the_rows_expected(empty: duckdb.DuckDBPyConnection, name: str) -> None:
    sql = queries()[name].sql
    for case in example(name).cases:
        found, expected = told_by(empty, [sql], case)[0], expected_rows(empty, sql, case.expected)
        assert found == expected, case.says


@pytest.mark.parametrize("name", NAMES)
def test_every_part_of_a_query_is_needed(empty: duckdb.DuckDBPyConnection, name: str) -> None:
    survived = survivors(empty, queries()[name])[1]
    listed = example(name).equivalents
    assert sorted(survived - set(listed)) == [], "these changes of the query give the same rows: add rows that tell them apart"
    assert sorted(set(listed) - survived) == [], "listed as equivalent, and no change that gives the same rows"


def survivors(con: duckdb.DuckDBPyConnection, query: Query) -> tuple[int, set[str]]:
    """How many mutants the database accepts, and those that no case tells from the query."""
    made = mutants(query.tree)
    alike, refused = set(made), set()
    for case in example(query.name).cases:
        own, *found = told_by(con, [query.sql, *made.values()], case)
        refused |= {name for name, rows in zip(made, found, strict=True) if rows is None}
        alike &= {name for name, rows in zip(made, found, strict=True) if rows == own}
    return len(made) - len(refused), alike
