"""The three sites of 200 players over two years: time, memory, size, and a night on which 20 players changed."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import psutil
import pytest

from pipelines.demo.academy import write_academy
from pipelines.measures.references import BIBLIOGRAPHY
from pipelines.runs import Night, run_night
from pipelines.stages.crew import crew, processes
from pipelines.workspace import create_workspace
from reports.site import build_site
from schemas.core import core_tables
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from pipelines.workspace import Workspace

pytestmark = pytest.mark.benchmark

LAST_ON = date(2026, 3, 31)
OWN_PLAYERS, N_PLAYERS, N_CHANGED = 20, 200, 20
SECONDS_WHOLE, SECONDS_CHANGED, BYTES_OF_MEMORY, KILOBYTES_A_PAGE = 10.0, 2.5, 2 * 1024**3, 200
IDS = ("player_id", "session_id", "trial_id", "flag_id")


def multiply(con: duckdb.DuckDBPyConnection, n_players: int = N_PLAYERS) -> None:
    """Copies of every player under other ids, in every table that names one, until there are so many."""
    for table in core_tables().values():
        own = [name for name in IDS if name in table.names]
        if not own:
            continue
        changed = ", ".join(f'"{name}" || \'-\' || copy as "{name}"' for name in own)
        alias = ", alias || ' ' || copy as alias" if table.name == "player" else ""
        told = "where player_id <> ''" if "player_id" in table.names else ""
        con.execute(
            f'insert into "{table.name}" select * exclude (copy) replace ({changed}{alias}) from "{table.name}" '
            f"cross join (select cast(range as varchar) as copy from range(2, {n_players // OWN_PLAYERS + 1})) copies {told}"
        ).fetchall()


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    made = create_workspace(tmp_path_factory.mktemp("squad") / "academy")
    write_academy(made.root, 7, LAST_ON, OWN_PLAYERS)
    run_night(Night(made, datetime(2026, 3, 31, 21, tzinfo=UTC)))
    with open_warehouse(made.warehouse) as con:
        multiply(con)
    return made


@dataclass(frozen=True)
class Built:
    """One build: seconds on the wall, seconds of processor (this process and its children), files written."""

    wall_s: float
    processor_s: float
    n_written: int


def _build(con: duckdb.DuckDBPyConnection, workspace: Workspace, site: Path) -> Built:
    started, used = time.perf_counter(), sum(os.times()[:4])
    sources = tuple(BIBLIOGRAPHY.values())
    with crew():
        outcome = build_site(
            con, workspace.academy(), site, as_of=LAST_ON, sources=sources, site_key=workspace.site_key(), processes=processes()
        )
    return Built(time.perf_counter() - started, sum(os.times()[:4]) - used, outcome.n_written)


def test_the_sites_of_a_large_squad(workspace: Workspace, tmp_path: Path) -> None:
    """Asserted on processor time over two cores, so that another program on the machine does not decide; the wall is reported."""
    site = tmp_path / "site"
    with open_warehouse(workspace.warehouse) as con:
        whole = _build(con, workspace, site)
        memory = psutil.Process().memory_info().rss
        same = _build(con, workspace, site)
        some = "(select player_id from player order by player_id limit ?)"
        nights = []
        for _ in range(3):
            con.execute(f"update player set alias = alias || '!' where player_id in {some}", [N_CHANGED]).fetchall()
            nights.append(_build(con, workspace, site))
        changed = min(nights, key=lambda night: night.wall_s)  # the least disturbed of three
    pages = sorted(site.rglob("*.html"))
    size = sum(path.stat().st_size for path in site.rglob("*") if path.is_file())
    largest = max(path.stat().st_size for path in pages)
    told = (
        f"{N_PLAYERS} players: {whole.n_written} files, {size / 1e6:.0f} MB, largest page {largest / 1024:.0f} kB",
        f"whole: {whole.wall_s:.1f} s on the wall, {whole.processor_s:.1f} s of processor, memory {memory / 2**20:.0f} MiB",
        f"nothing changed: {same.wall_s:.1f} s",
        f"{N_CHANGED} players changed: {changed.wall_s:.1f} s, {changed.n_written} files written",
    )
    print("\n" + "\n".join(told))  # noqa: T201 - a benchmark reports
    assert whole.processor_s / 2 <= SECONDS_WHOLE
    assert same.n_written == 0
    assert changed.processor_s / 2 <= SECONDS_CHANGED
    assert memory <= BYTES_OF_MEMORY
    assert largest <= KILOBYTES_A_PAGE * 1024
