"""Contract = table = mart: every table and view has exactly the columns, in order and type, that its contract promises."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from schemas.clubs import CLUB_GROUP
from schemas.core import core_tables
from schemas.marts import marts
from warehouse.connection import frame, open_warehouse
from warehouse.migrate import audits, views

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

CONTRACTS = {**core_tables(), **marts()}


@pytest.fixture(scope="module")
def con(migrated: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """An empty warehouse in which nothing is written."""
    with open_warehouse(migrated, read_only=True) as connection:
        yield connection


@pytest.mark.parametrize("name", sorted(CONTRACTS))
def test_a_table_or_mart_has_the_columns_of_its_contract(con: duckdb.DuckDBPyConnection, name: str) -> None:
    empty = frame(con, f'select * from "{name}" limit 0')
    assert dict(empty.schema) == CONTRACTS[name].polars_schema()
    assert empty.columns == list(CONTRACTS[name].names)


def test_every_table_and_mart_of_the_warehouse_has_a_contract(con: duckdb.DuckDBPyConnection) -> None:
    tables = {row[0] for row in con.execute("select table_name from duckdb_tables()").fetchall()}
    assert tables - set(core_tables()) == {"migration", "view_state"}
    assert {script.name for script in views() if script.name.startswith("mart_")} == set(marts())


@pytest.mark.parametrize("name", sorted(CONTRACTS))
def test_the_grain_is_made_of_columns(name: str) -> None:
    assert set(CONTRACTS[name].grain) <= set(CONTRACTS[name].names)


@pytest.mark.parametrize("script", audits(), ids=lambda script: script.name)
def test_an_audit_of_an_empty_warehouse_finds_nothing(con: duckdb.DuckDBPyConnection, script: object) -> None:
    assert con.execute(script.sql).fetchall() == []


def test_the_club_table_is_the_club_list(con: duckdb.DuckDBPyConnection) -> None:
    assert dict(con.execute("select club, club_group from club").fetchall()) == dict(CLUB_GROUP)
