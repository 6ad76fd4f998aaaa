"""A run killed at any moment loses nothing and repeats nothing; two runs at once double nothing."""

from __future__ import annotations

import hashlib
import random
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from tests.broad import some_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.conftest import DropFolder

# Small batches make many transactions, so that a kill hits all sorts of moments.
CHILD = """
import sys
from datetime import datetime
from pathlib import Path
from pipelines.collector import collect_seldom
collect_seldom()
from pipelines.stages.intake import take
from schemas.academy import Academy
from schemas.errors import WarehouseBusyError
from warehouse.connection import open_warehouse
import schemas.files.contract
take.MOST_FILES_IN_A_BATCH = 2
root = Path(sys.argv[1])
print("go", flush=True)
try:
    with open_warehouse(root / "academy.duckdb") as con:
        take.take_in(root, con, Academy("Lakeside", "Europe/Berlin"), datetime(2026, 6, 1, 12))
    print("done")
except WarehouseBusyError as busy:
    print("busy", busy)
"""
N_FILES = 8


def _drop_all(folder: DropFolder) -> set[str]:
    """Files with good and bad rows, a session sent twice, answers with and without consent, a held file, a stranger."""
    folder.people("P1 P2", sessions=" ".join(f"S{n}" for n in range(N_FILES)))
    header = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\n"
    for number in range(N_FILES):
        rows = [f"S{number},P{1 + number % 2},{n},2026-03-14T10:{n:02d}:00,driver,{45 + n / 10}\n" for n in range(1, 30)]
        folder.drop(
            f"shots_{number}.csv", header + "".join(rows) + f"S{number},P{1 + number % 2},30,2026-03-14T11:00:00,driver,fast\n"
        )
    folder.drop("shots_again.csv", header + "S3,P2,1,2026-03-14T10:00:00,driver,44\n")
    folder.drop("shots_held.csv", header + "S3,P2,one,never,spoon,slow\n")
    folder.drop("players_2.csv", "player_id,alias,health_consent\nP3,Reed,false\n")
    folder.drop("checkins_a.csv", "player_id,date,fatigue\nP1,2026-03-14,3\nP3,2026-03-14,7\nP2,2026-03-15,2\n")
    folder.drop("holiday.txt", "not ours")
    return {_sha(path) for path in (folder.root / "inbox").iterdir()}


def _sha(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _state(folder: DropFolder) -> tuple[object, ...]:
    problems = folder.rows('select name, line, "column", rule, closed from problem join file using (file_id) order by all').rows()
    ledger = folder.rows(
        "select name, kind, status, n_rows, n_loaded, n_quarantined, kept_as, redacted from file order by all"
    ).rows()
    places = sorted(
        str(path.relative_to(folder.root))
        for part in ("inbox", "archive", "quarantine")
        for path in (folder.root / part).rglob("*")
    )
    return folder.core(), problems, ledger, places


def _start(folder: DropFolder) -> subprocess.Popen[str]:
    child = subprocess.Popen([sys.executable, "-c", CHILD, str(folder.root)], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    assert child.stdout.readline() == "go\n"
    return child


def _kill_and_repeat(make: Callable[[str], DropFolder], times: int, seed: int) -> int:
    """Kill that many runs in the middle of their work, at random moments; returns how many runs that took."""
    whole = make("whole")
    originals = _drop_all(whole)
    child = _start(whole)
    begun = time.monotonic()
    child.communicate()
    took = time.monotonic() - begun
    expected = _state(whole)
    chance, n_killed, n_runs = random.Random(seed), 0, 0  # noqa: S311 - moments, not secrets
    while n_killed < times:
        n_runs += 1
        folder = make(f"killed_{n_runs}")
        _drop_all(folder)
        child = _start(folder)
        time.sleep(chance.uniform(0, took))
        child.kill()
        n_killed += "done" not in child.communicate()[0]
        folder.run()
        assert _state(folder) == expected
        assert folder.faults() == {}
        kept = {_sha(path) for part in ("archive", "quarantine") for path in (folder.root / part).rglob("*") if path.is_file()}
        redacted = {_sha(path) for path in (whole.root / "archive").rglob("*.redacted.csv")}
        assert len(redacted) == 1
        assert len(originals - kept) == 1  # the answers of somebody who has not agreed: only the redacted copy is kept
        assert redacted <= kept
    return n_runs


@pytest.mark.parametrize("seed", some_of([1, 3], every=2))
def test_a_killed_run_is_made_good_by_the_next(new_folder: Callable[[str], DropFolder], seed: int) -> None:
    assert _kill_and_repeat(new_folder, 2, seed=seed) >= 2


@pytest.mark.benchmark
def test_a_hundred_killed_runs_are_made_good_by_the_next(new_folder: Callable[[str], DropFolder]) -> None:
    n_runs = _kill_and_repeat(new_folder, 100, seed=2)
    print(f"\n100 of {n_runs} runs were killed in the middle of their work; all made good")  # noqa: T201 - the figure wanted


def test_of_two_runs_at_once_one_says_that_the_other_is_at_work(
    folder: DropFolder, new_folder: Callable[[str], DropFolder]
) -> None:
    alone = new_folder("alone")
    _drop_all(alone)
    alone.run()
    _drop_all(folder)
    said = [child.communicate()[0] for child in [_start(folder), _start(folder)]]
    assert all(text.startswith(("done", "busy")) for text in said)
    assert any(text.startswith("done") for text in said)
    folder.run()
    assert folder.core() == alone.core()
    assert folder.faults() == {}
