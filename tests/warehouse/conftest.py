from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_warehouse(tmp_path / "academy.duckdb") as connection:
        yield connection
