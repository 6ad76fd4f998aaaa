"""Two warehouses side by side."""

from __future__ import annotations

import shutil
from contextlib import ExitStack
from typing import TYPE_CHECKING

import pytest

from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

    Pair = tuple[duckdb.DuckDBPyConnection, duckdb.DuckDBPyConnection]


@pytest.fixture
def pair(tmp_path: Path, migrated: Path) -> Iterator[Pair]:
    """One in which nights build on each other, and one in which each is whole."""
    with ExitStack() as stack:
        paths = [tmp_path / f"{name}.duckdb" for name in ("built", "whole")]
        for path in paths:
            shutil.copy(migrated, path)
        built, whole = (stack.enter_context(open_warehouse(path)) for path in paths)
        yield built, whole
