"""A federation's nights on a real PostgreSQL: what the engine costs, how time falls with workers, and what survives kills.

How many academies, kills and workers: ``SPEEDWORTH_ACADEMIES``, ``SPEEDWORTH_KILLS`` and ``SPEEDWORTH_WORKERS`` ("1 2 4" is three
rounds); 100, 20 and these where they are not set; ``SPEEDWORTH_PER_RUN``
for so many academies a run, else as many as suit. Every academy is a copy of one: 20 invented players after some weeks, one night
behind, one day's files waiting.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import psutil
import pytest

from pipelines.demo.academy import write_academy
from pipelines.runs import Night, run_night
from pipelines.workspace import create_workspace
from tests.flow.federation_world import ROOT, World, federation_world, nights_of, said
from tests.flow.postgres import Cluster, cluster

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.benchmark

N_ACADEMIES = int(os.environ.get("SPEEDWORTH_ACADEMIES", "100"))
N_KILLS = int(os.environ.get("SPEEDWORTH_KILLS", "20"))
N_PLAYERS, N_WORKERS = 20, 4
ROUNDS = tuple(map(int, os.environ.get("SPEEDWORTH_WORKERS", f"1 2 {N_WORKERS}").split()))
PER_RUN = int(os.environ.get("SPEEDWORTH_PER_RUN", "0"))
MOST_OVERHEAD = 0.20
UNTIL_ON = date(2024, 4, 1)
"""Four weeks of play."""
LATE_FROM = datetime(2024, 3, 31, tzinfo=UTC).timestamp()
QUIET = '\n[times]\nweekly_at = "off"\n'
PATIENCE_S = 3600
LOOP = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from pipelines.runs import Night, run_night
from pipelines.workspace import Workspace
for folder in sys.argv[1:]:
    run_night(Night(Workspace(Path(folder)), datetime.now(UTC)))
"""


@dataclass(frozen=True)
class Took:
    """Seconds on the wall and of processor, all processes together."""

    wall_s: float
    processor_s: float


@pytest.fixture(scope="module")
def academy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace that is one night behind."""
    made = create_workspace(tmp_path_factory.mktemp("one") / "academy")
    write_academy(made.root, 7, UNTIL_ON, N_PLAYERS)
    made.settings.write_text(made.settings.read_text() + QUIET)
    waiting = sorted(made.inbox.rglob("*"), key=lambda path: path.stat().st_mtime)
    late = [path for path in waiting if path.is_file() and path.stat().st_mtime >= LATE_FROM]
    kept = {path: path.read_bytes() for path in late}
    for path in late:
        path.unlink()
    run_night(Night(made, datetime(2024, 4, 1, 2, tzinfo=UTC)))
    made.log.unlink()
    for path, content in kept.items():
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    assert kept
    return made.root


@pytest.fixture
def folders(academy: Path, tmp_path: Path) -> dict[str, Path]:
    names = [f"academy-{at:03d}" for at in range(1, N_ACADEMIES + 1)]
    for name in names:
        shutil.copytree(academy, tmp_path / name)
    return {name: tmp_path / name for name in names}


def used_s(process: psutil.Process) -> float:
    """Processor time of a process, of those that it has waited for, and of those below it."""
    total = 0.0
    for one in (process, *process.children(recursive=True)):
        with suppress(psutil.NoSuchProcess):
            times = one.cpu_times()
            total += times.user + times.system + times.children_user + times.children_system
    return total


def looped(folders: dict[str, Path]) -> Took:
    begun, before = time.perf_counter(), os.times()
    subprocess.run([sys.executable, "-c", LOOP, *map(str, folders.values())], check=True, cwd=ROOT)
    after = os.times()
    used = after.children_user + after.children_system - before.children_user - before.children_system
    return Took(time.perf_counter() - begun, used)


@contextmanager
def serving(world: World) -> Iterator[subprocess.Popen[str]]:
    server = world.started("serve")
    try:
        said(server, "Serving the nights")
        yield server
    finally:
        end(server, signal.SIGTERM)


def end(process: subprocess.Popen[str], how: signal.Signals) -> None:
    if process.poll() is None:
        process.send_signal(how)
    with suppress(subprocess.TimeoutExpired):
        process.communicate(timeout=90)
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)


def kill(process: subprocess.Popen[str], *, alone: bool) -> None:
    """At once: itself alone, or with everything in its group."""
    (os.kill if alone else os.killpg)(process.pid, signal.SIGKILL)
    process.wait()
    if process.stdout is not None:
        process.stdout.close()


def started_worker(world: World, at: int) -> subprocess.Popen[str]:
    worker = world.started("worker", "--machine", f"machine-{at}")
    said(worker, "Taking nights")
    return worker


def by_workers(world: World, server: subprocess.Popen[str], database: Cluster, n: int) -> Took:
    """One round with so many workers; they and the server have begun before."""
    workers = [started_worker(world, at) for at in range(n)]
    assert database.running is not None
    parts = [psutil.Process(part.pid) for part in (*workers, server, database.running)]
    begun, before = time.perf_counter(), sum(map(used_s, parts))
    done = world.typed("run")
    wall = time.perf_counter() - begun
    used = sum(map(used_s, parts)) - before
    for worker in workers:
        end(worker, signal.SIGTERM)
    assert done.returncode == 0, done.stdout + done.stderr
    return Took(wall, used)


def assert_done_once(folders: dict[str, Path]) -> None:
    assert {name: len(nights_of(folder)) for name, folder in folders.items()} == dict.fromkeys(folders, 1)


def renewed(academy: Path, folders: dict[str, Path]) -> None:
    for folder in folders.values():
        shutil.rmtree(folder)
        shutil.copytree(academy, folder)


def test_what_the_engine_costs_and_how_time_falls_with_workers(academy: Path, folders: dict[str, Path], tmp_path: Path) -> None:
    took = {"plain loop": looped(folders)}
    assert_done_once(folders)
    with cluster() as database:
        world = federation_world(tmp_path / "fed", folders, database.url(), academies_per_run=PER_RUN)
        with serving(world) as server:
            for n in ROUNDS:
                renewed(academy, folders)
                took[f"{n} workers"] = by_workers(world, server, database, n)
                assert_done_once(folders)
    loop = took["plain loop"]
    per_run = PER_RUN or "as many as suit"
    print(f"\n{N_ACADEMIES} academies of {N_PLAYERS} players, {per_run} a run, PostgreSQL, {os.cpu_count()} cores")  # noqa: T201
    for name, one in took.items():
        print(  # noqa: T201
            f"{name:<12} {one.wall_s:7.1f} s on the wall ({one.wall_s / loop.wall_s:.2f}), "
            f"{one.processor_s:7.1f} s of processor ({one.processor_s / loop.processor_s:.2f})"
        )
    assert took[f"{ROUNDS[-1]} workers"].processor_s <= (1 + MOST_OVERHEAD) * loop.processor_s


def test_every_night_is_done_once_whatever_is_killed(folders: dict[str, Path], tmp_path: Path) -> None:
    moments = random.Random(18)  # noqa: S311 - the same order of blows each time
    with cluster() as database:
        world = federation_world(tmp_path / "fed", folders, database.url(), academies_per_run=PER_RUN, again_after_min=1)
        server = world.started("serve")
        said(server, "Serving the nights")
        workers = [started_worker(world, at) for at in range(N_WORKERS)]
        begun = time.monotonic()
        sent = world.started("run")
        n_killed = n_alone = 0
        try:
            while sent.poll() is None and time.monotonic() - begun < PATIENCE_S:
                time.sleep(moments.uniform(1.0, 5.0))
                if n_killed >= N_KILLS or not (busy := [at for at, one in enumerate(workers) if children_of(one)]):
                    continue
                at = moments.choice(busy)
                alone = moments.random() < 0.3
                kill(workers[at], alone=alone)
                n_alone += alone
                n_killed += 1
                if n_killed == N_KILLS // 2:
                    database.stop()
                    database.start()
                    end(server, signal.SIGTERM)
                    server = world.started("serve")
                    said(server, "Serving the nights")
                workers[at] = started_worker(world, at)
            told, _ = sent.communicate(timeout=60)
        finally:
            for one in (*workers, server, sent):
                end(one, signal.SIGTERM)
    print(  # noqa: T201
        f"\n{N_ACADEMIES} academies, {n_killed} of {N_KILLS} kills done ({n_alone} of a worker alone, the rest with its night), "
        f"server and database restarted once, over after {time.monotonic() - begun:.0f} s\n{told[-3000:]}"
    )
    assert n_killed == N_KILLS
    assert_done_once(folders)
    assert sent.returncode == 0, told


def children_of(process: subprocess.Popen[str]) -> list[psutil.Process]:
    try:
        return psutil.Process(process.pid).children()
    except psutil.NoSuchProcess:
        return []
