"""The invented academy, made anew from its archive: all rows of files and of the ledger, and the site byte by byte."""

from __future__ import annotations

import shutil
import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.demo.academy import invented_academy
from pipelines.runs import Night, run_night
from pipelines.stages.rebuild import rebuild
from reports.shelf import list_of
from tests.flow.test_rebuild import core, pages

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2030, 1, 1, 12, tzinfo=UTC)


@pytest.mark.benchmark
def test_the_invented_academy_is_made_anew_from_its_archive(tmp_path: Path) -> None:
    workspace = invented_academy(tmp_path / "demo")
    begun = time.perf_counter()
    run_night(Night(workspace, NOW))
    first = time.perf_counter() - begun
    rows, before = core(workspace), pages(workspace) | {"list": list_of(workspace.site).read_bytes()}
    workspace.warehouse.unlink()
    shutil.rmtree(workspace.site)
    begun = time.perf_counter()
    made = rebuild(workspace, NOW + timedelta(hours=1))
    took = time.perf_counter() - begun
    assert (made.differing, made.left_out) == ((), ())
    assert core(workspace) == rows
    run_night(Night(workspace, NOW))
    assert pages(workspace) | {"list": list_of(workspace.site).read_bytes()} == before
    n_rows = sum(map(len, rows.values()))
    told = f"{n_rows} rows in {len(rows)} tables and {len(before)} files of the site are the same"
    print(f"\n{told}; the first run took {first:.1f} s, the rebuild {took:.1f} s")  # noqa: T201 - the figure wanted
