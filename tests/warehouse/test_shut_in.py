"""SQL reaches the warehouse and nothing beside it, whatever it is asked."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import duckdb
import pytest

from schemas.errors import WarehouseError
from tests.full_disk import no_file_beyond
from warehouse.connection import open_warehouse, scalar
from warehouse.rewrite import rewrite_warehouse

if TYPE_CHECKING:
    from pathlib import Path

REACHING = (
    "select * from read_csv('{there}')",
    "select * from read_text('{there}')",
    "select * from read_blob('{there}')",
    "select * from read_json('{there}')",
    "select * from read_parquet('{there}')",
    "select * from glob('{folder}/*')",
    "select * from '{there}'",
    "copy (select 1) to '{folder}/out.csv'",
    "copy player from '{there}'",
    "attach '{folder}/other.duckdb'",
    "attach '{folder}/other.fresh'",
    "export database '{folder}/out'",
    "import database '{folder}'",
    "load '{folder}/x.duckdb_extension'",
    "install httpfs",
    "set enable_external_access = true",
    "set allowed_directories = ['/']",
    "set lock_configuration = false",
    "reset enable_external_access",
    "set timezone = 'Asia/Tokyo'",
    "set autoinstall_known_extensions = true",
    "pragma enable_profiling = 'json'",
)


@pytest.mark.parametrize("read_only", [False, True], ids=["writing", "reading"])
def test_sql_reaches_nothing_beside_the_warehouse(migrated: Path, tmp_path: Path, read_only: bool) -> None:
    there = tmp_path / "there.csv"
    there.write_text("a,b\n1,2\n")
    with open_warehouse(migrated, read_only=read_only) as con:
        for sql in REACHING:
            with pytest.raises(duckdb.Error):
                con.execute(sql.format(there=there, folder=tmp_path)).fetchall()
    assert [path.name for path in tmp_path.iterdir()] == ["there.csv"]


def test_it_can_still_be_written_anew_whatever_its_folder_is_called(tmp_path: Path) -> None:
    folder = tmp_path / "it's ours; drop"
    folder.mkdir()
    path = folder / "academy.duckdb"
    with open_warehouse(path) as con:
        con.execute("insert into academy values ('Lakeside', 'UTC')").fetchall()
    rewrite_warehouse(path)
    with open_warehouse(path) as con:
        assert scalar(con, "select name from academy") == "Lakeside"


@pytest.mark.parametrize("room", [20_000, 60_000, 400_000, 1_000_000])
def test_a_disk_that_is_full_while_it_is_written_anew_is_told_and_leaves_it_as_it_was(
    migrated: Path, tmp_path: Path, room: int
) -> None:
    path = tmp_path / "academy.duckdb"
    shutil.copy(migrated, path)
    with open_warehouse(path) as con:
        con.execute("insert into academy values ('Lakeside', 'UTC')").fetchall()
    with no_file_beyond(room), pytest.raises(WarehouseError):
        rewrite_warehouse(path)
    assert [one.name for one in tmp_path.iterdir() if "fresh" in one.name] == []
    with open_warehouse(path) as con:
        assert scalar(con, "select name from academy") == "Lakeside"
