"""Every view, mart and audit gives what its example expects, and every part of it is needed for that."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import duckdb
import pytest

from tests.warehouse.sql_examples import empty_warehouse, example, example_names, expected_rows, lay, queries, result_rows
from tests.warehouse.sql_mutants import mutants

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tests.warehouse.sql_examples import Case, Query

NAMES = sorted(example_names() & set(queries()))


@pytest.fixture(scope="module")
def empty() -> Iterator[duckdb.DuckDBPyConnection]:
    con = empty_warehouse()
    yield con
    con.close()


def told_by(con: duckdb.DuckDBPyConnection, sqls: list[str], case: Case) -> list[object]:
    """What each query tells of one case; of a query that the database refuses: None; of one that fails: with what."""
    told: list[object] = []
    with _laid(con, case) as lay_again:
        for sql in sqls:
            try:
                told.append(result_rows(con, sql, case.expected.columns))
            except duckdb.Error as fault:
                told.append(None if isinstance(fault, duckdb.BinderException | duckdb.ParserException) else str(fault))
                lay_again()
    return told


@contextmanager
def _laid(con: duckdb.DuckDBPyConnection, case: Case) -> Iterator[Callable[[], None]]:
    """The rows of a case within a transaction; what is yielded begins it anew, since a query that fails ends it."""

    def lay_again() -> None:
        con.execute("rollback")
        con.execute("begin")
        lay(con, case)

    con.execute("begin")
    try:
        lay(con, case)
        yield lay_again
    finally:
        con.execute("rollback")


def test_a_query_that_is_refused_does_not_end_those_behind_it(empty: duckdb.DuckDBPyConnection) -> None:
    case = example("last_day").cases[0]
    found = told_by(empty, ["select no_such from load_day", queries()["last_day"].sql], case)
    assert found == [None, [("2026-03-09",)]]


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
