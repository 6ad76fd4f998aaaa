"""A first start that a full disk or a kill ended while the warehouse was being made: the next one begins anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from schemas.errors import WarehouseError
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("n_bytes", [1, 64, 4096, 12287])
def test_a_beginning_of_a_warehouse_is_made_anew(tmp_path: Path, migrated: Path, n_bytes: int) -> None:
    path = tmp_path / "academy.duckdb"
    path.write_bytes(migrated.read_bytes()[:n_bytes])
    with open_warehouse(path) as con:
        assert scalar(con, "select count(*) from shot") == 0


def test_a_warehouse_that_is_cut_short_later_is_left_as_it_is_and_refused(tmp_path: Path, migrated: Path) -> None:
    path = tmp_path / "academy.duckdb"
    cut = migrated.read_bytes()[:40_000]
    path.write_bytes(cut)
    with pytest.raises(WarehouseError), open_warehouse(path) as con:
        scalar(con, "select count(*) from shot")
    assert path.read_bytes() == cut
