from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb


@pytest.fixture
def con(tmp_path: Path, migrated: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """An empty warehouse of one's own."""
    shutil.copy(migrated, tmp_path / "academy.duckdb")
    with open_warehouse(tmp_path / "academy.duckdb") as connection:
        yield connection
