from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import polars as pl
import pytest

from warehouse import connection
from warehouse.connection import frame, insert_frame, open_warehouse, registered, replace_table, scalar, transaction

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

ROWS = pl.DataFrame({"fingerprint": [None], "as_of": [None]}, schema={"fingerprint": pl.String, "as_of": pl.Date})


def join_nothing(con: duckdb.DuckDBPyConnection) -> None:
    with registered(con, "given", ROWS):
        con.execute("select no_such_column from given").fetchall()


@pytest.mark.parametrize(
    ("fails", "fault"),
    [
        (lambda con: replace_table(con, "night_state", ROWS), duckdb.ConstraintException),
        (join_nothing, duckdb.BinderException),
    ],
    ids=["a null where none may be", "a column that is not there"],
)
def test_a_transaction_that_fails_says_why(
    con: duckdb.DuckDBPyConnection, fails: Callable[[duckdb.DuckDBPyConnection], object], fault: type[Exception]
) -> None:
    def all_or_nothing() -> None:
        with transaction(con):
            fails(con)

    with pytest.raises(fault):
        all_or_nothing()
    assert frame(con, "select * from night_state").is_empty()


def test_columns_that_a_frame_lacks_become_null(con: duckdb.DuckDBPyConnection) -> None:
    insert_frame(con, "academy", pl.DataFrame({"time_zone": ["UTC"], "name": ["A"]}))
    assert con.execute("select name, time_zone from academy").fetchall() == [("A", "UTC")]


def test_a_slow_query_prints_no_progress_between_what_programs_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    connect = duckdb.connect

    def lively(*args: object, **options: object) -> duckdb.DuckDBPyConnection:
        con = connect(*args, **options)  # type: ignore[arg-type]
        con.execute("set enable_progress_bar = true")  # as an interactive session has it
        return con

    monkeypatch.setattr(duckdb, "connect", lively)
    with open_warehouse(tmp_path / "academy.duckdb") as con:
        assert scalar(con, "select current_setting('enable_progress_bar')") is False


class Promised:
    """A connection that can do what the library promises, and no more."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self.sql = con.sql


@pytest.mark.parametrize("params", [[], [3]])
def test_a_frame_is_the_same_as_the_librarys_own_relation_gives(con: duckdb.DuckDBPyConnection, params: list[int]) -> None:
    where = "where n > ?" if params else ""
    query = f"""
        select n, n / 7 as part, cast(n as varchar) as told, date '2026-03-01' + n as day, n % 2 = 0 as even, [n, null] as list,
          cast(n as hugeint) as huge, cast(n as decimal(9, 2)) as money, timestamp '2026-03-01 10:00:00' as instant, null as none
        from (select cast(range as integer) as n from range(300000)) {where} order by n
    """
    quick, plain = frame(con, query, params), frame(Promised(con), query, params)  # type: ignore[arg-type]
    assert quick.schema == plain.schema == pl.DataFrame(con.sql(query, params=params)).schema
    assert quick.equals(plain)
    assert quick.height == 300_000 - (4 if params else 0)


def test_a_frame_of_a_query_that_cannot_run_says_why(con: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(duckdb.BinderException, match="nowhere"):
        frame(con, "select nowhere from range(3)")
    with pytest.raises(duckdb.ConversionException):
        frame(con, "select cast(told as integer) from (select 'three' as told)")


def test_memory_of_the_database_grows_with_its_shots(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place, asked = tmp_path / "academy.duckdb", "select current_setting('memory_limit')"
    with open_warehouse(place) as con:
        assert scalar(con, asked) == "953.6 MiB", "a thousand million bytes"
    monkeypatch.setattr(connection, "BYTES_A_SHOT", 10**8)
    with open_warehouse(place) as con:
        named = "insert into shot by name select 's' as session_id, 'p' as player_id, range as shot_no, 'f' as file_id, 1 as line"
        con.execute(f"{named}, 'driver' as club, timestamp '2026-03-01' as struck_at, true as counts from range(30)").fetchall()
    with open_warehouse(place, read_only=True) as con:
        assert scalar(con, asked) == "2.7 GiB", "thirty shots of a tenth of it each"


def test_what_memory_does_not_hold_is_ordered_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Six million numbers with their order need twice as much as they may have; blocks that were read count too."""
    monkeypatch.setattr(connection, "LEAST_MEMORY_BYTES", 10**8)
    with open_warehouse(tmp_path / "little.duckdb") as con:
        con.execute("create table number as select range as n, hash(range) as by from range(6_000_000)").fetchall()
        rows = frame(con, 'select n, "by" from number order by "by"')
    assert rows.height == rows["n"].n_unique() == 6_000_000
    assert rows["by"].is_sorted()


def test_a_column_in_which_nothing_stands_becomes_null_whatever_its_type(tmp_path: Path) -> None:
    with open_warehouse(tmp_path / "a.duckdb") as con:
        con.execute("create table bare (n integer, begun timestamp, is_so boolean, word varchar)").fetchall()
        rows = pl.DataFrame({"n": [None, None], "begun": [None, None], "is_so": [None, None], "word": ["a", "b"]})
        assert rows.schema["n"] == pl.Null
        assert insert_frame(con, "bare", rows) == 2
        assert frame(con, "select * from bare order by word").rows() == [(None, None, None, "a"), (None, None, None, "b")]
        with registered(con, "given", rows):
            assert scalar(con, "select count(*) from given where n is null") == 2
