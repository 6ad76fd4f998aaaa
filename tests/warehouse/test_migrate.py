from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import pytest

from schemas.errors import NotFoundError, WarehouseBusyError, WarehouseCorruptError, WarehouseNewerError
from warehouse.connection import open_warehouse, scalar, transaction
from warehouse.migrate import Script, in_order, migrate

if TYPE_CHECKING:
    from pathlib import Path


def test_a_second_opening_migrates_nothing(tmp_path: Path) -> None:
    with open_warehouse(tmp_path / "w.duckdb"):
        pass
    with open_warehouse(tmp_path / "w.duckdb") as con:
        assert migrate(con) == 0


def test_an_edited_migration_is_refused(tmp_path: Path) -> None:
    with open_warehouse(tmp_path / "w.duckdb") as con:
        con.execute("update migration set sha256 = 'other' where number = 1").fetchall()
    with pytest.raises(WarehouseCorruptError, match="0001"), open_warehouse(tmp_path / "w.duckdb"):
        pass


def test_a_newer_warehouse_is_refused(tmp_path: Path) -> None:
    with open_warehouse(tmp_path / "w.duckdb") as con:
        con.execute("insert into migration values (9999, 'later', 'x', timestamp '2030-01-01')").fetchall()
    with pytest.raises(WarehouseNewerError), open_warehouse(tmp_path / "w.duckdb", read_only=True):
        pass


def test_a_missing_warehouse_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="speedworth run"), open_warehouse(tmp_path / "w.duckdb", read_only=True):
        pass


def test_a_warehouse_opened_twice_is_busy(tmp_path: Path) -> None:
    with (
        open_warehouse(tmp_path / "w.duckdb"),
        pytest.raises(WarehouseBusyError),
        open_warehouse(tmp_path / "w.duckdb", read_only=True),
    ):
        pass


def test_a_transaction_is_all_or_nothing(con: duckdb.DuckDBPyConnection) -> None:
    before = scalar(con, "select count(*) from club")

    def fail_half_way() -> None:
        with transaction(con):
            con.execute("delete from club").fetchall()
            con.execute("select no_such_column from club").fetchall()

    with pytest.raises(duckdb.Error):
        fail_half_way()
    assert scalar(con, "select count(*) from club") == before


def test_a_view_is_laid_behind_those_that_it_reads() -> None:
    scripts = (Script("a", "create view a as select * from b;"), Script("b", "create view b as -- not of a\nselect 1;"))
    assert [script.name for script in in_order(scripts)] == ["b", "a"]


def test_views_that_read_each_other_are_refused() -> None:
    scripts = (Script("a", "create view a as select * from b;"), Script("b", "create view b as select * from a;"))
    with pytest.raises(WarehouseCorruptError, match="circle"):
        in_order(scripts)
