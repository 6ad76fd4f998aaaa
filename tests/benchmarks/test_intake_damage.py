"""More than two thousand damaged deliveries over eight nights: none ends or hangs a night or fills the memory."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from tests.flow.test_intake_damaged import N_SHOTS, damaged, good

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.conftest import DropFolder

N_NIGHTS, N_DELIVERIES, N_GOOD = 8, 2000, 3

# In a process of its own, so that its memory is its own too; file by file, so that each one's time can be told.
TAKE_IN = """
import json, resource, sys, time
from datetime import datetime
from pathlib import Path
from pipelines.stages.intake import apart, take
from schemas.academy import Academy
from warehouse.connection import open_warehouse
take.MOST_FILES_IN_A_BATCH = 1
begun, times = time.perf_counter(), []
def tell(what, done, total):
    global begun
    times.append(time.perf_counter() - begun)
    begun = time.perf_counter()
root = Path(sys.argv[1])
with open_warehouse(root / "academy.duckdb") as con:
    outcome = take.take_in(root, con, Academy("Lakeside", "Europe/Berlin"), datetime(2026, 6, 1), tell)
apart.end()
peak = sum(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
files = [(file.name, file.status, file.n_rows, file.n_loaded, file.n_quarantined) for file in outcome.files]
print(json.dumps({"files": files, "longest": max(times), "peak": peak}))
"""


@pytest.mark.benchmark
def test_two_thousand_damaged_deliveries_end_no_night(new_folder: Callable[[str], DropFolder]) -> None:
    corpus = damaged(times=8)
    assert len(corpus) >= N_DELIVERIES
    longest, peak, n_held = 0.0, 0.0, 0
    for night in range(N_NIGHTS):
        folder = new_folder(f"night_{night}")
        folder.people("P1", sessions=" ".join(f"S{n}" for n in range(1, 30)))
        for number, (ending, data) in list(enumerate(corpus))[night::N_NIGHTS]:
            folder.drop(f"shots_{number:04d}{ending}", data + b"\n" * number if ending == ".csv" else data)
        for number in range(20, 20 + N_GOOD):
            folder.drop(f"shots_good_{number}.csv", good(f"S{number}"))
        done = subprocess.run([sys.executable, "-c", TAKE_IN, str(folder.root)], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr[-2000:]
        told = json.loads(done.stdout.splitlines()[-1])
        longest, peak = max(longest, told["longest"]), max(peak, told["peak"])
        n_held += sum(file[1] == "held" for file in told["files"])
        loaded = {name: n_loaded for name, _, _, n_loaded, _ in told["files"]}
        assert all(loaded[f"shots_good_{number}.csv"] == N_SHOTS for number in range(20, 20 + N_GOOD))
        assert all(n_rows == n_loaded + n_bad for _, _, n_rows, n_loaded, n_bad in told["files"])
        assert folder.names("inbox") == []
        assert folder.faults() == {}
    print(f"\n{len(corpus)} deliveries, {n_held} held; longest {longest:.1f} s, peak {peak:.0f} MB with the reader")  # noqa: T201
    assert longest <= 20
    assert peak <= 1024
