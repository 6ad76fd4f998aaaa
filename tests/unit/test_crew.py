from __future__ import annotations

import operator
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import psutil

from pipelines.stages.crew import NICE, WORTH_A_PROCESS, Round, crew, measured

if TYPE_CHECKING:
    from collections.abc import Iterator


def test_blocks_are_measured_in_their_order_by_other_processes_and_by_this_one() -> None:
    blocks = [(number,) for number in range(7)]
    alone = list(measured(operator.itemgetter(0), iter(blocks), len(blocks)))
    with crew():
        together = list(measured(operator.itemgetter(0), iter(blocks), len(blocks)))
    assert alone == together == list(range(7))


def test_few_blocks_start_no_process() -> None:
    n = WORTH_A_PROCESS - 1
    with crew():
        assert set(measured(_process, iter(range(n)), n)) == {os.getpid()}


def test_processes_that_were_started_measure_few_blocks_too() -> None:
    with crew():
        list(measured(_process, iter(range(WORTH_A_PROCESS)), WORTH_A_PROCESS))
        assert os.getpid() not in set(measured(_process, iter(range(2)), 2))
        assert set(measured(_process, iter(range(1)), 1)) == {os.getpid()}


def test_what_was_begun_ahead_is_measured_while_this_process_does_other_work() -> None:
    with crew():
        begun = Round(_process, iter(range(WORTH_A_PROCESS + 3)), WORTH_A_PROCESS + 3, WORTH_A_PROCESS)
        found: list[int] = []
        until = time.monotonic() + 60
        while len(found) < WORTH_A_PROCESS and time.monotonic() < until:
            found += begun.found_by_now()
            time.sleep(0.01)
        assert len(found) >= WORTH_A_PROCESS, "before anybody waited for it"
        found += begun.found()
        assert len(found) == WORTH_A_PROCESS + 3
        assert os.getpid() not in found


def test_what_is_not_found_yet_is_not_waited_for(tmp_path: Path) -> None:
    sign = tmp_path / "go on"
    with crew():
        begun = Round(_awaited, iter([sign] * WORTH_A_PROCESS), WORTH_A_PROCESS, n_ahead=2)
        try:
            assert list(begun.found_by_now()) == []
        finally:
            sign.touch()
        assert list(begun.found()) == [True] * WORTH_A_PROCESS


def _awaited(sign: Path) -> bool:
    until = time.monotonic() + 20
    while not sign.exists() and time.monotonic() < until:
        time.sleep(0.01)
    return sign.exists()


def test_without_processes_what_was_begun_ahead_waits_until_it_is_asked_for() -> None:
    read: list[int] = []

    def blocks() -> Iterator[int]:
        for number in range(3):
            read.append(number)
            yield number

    with crew():
        begun = Round(operator.neg, blocks(), 3, n_ahead=2)
        assert list(begun.found_by_now()) == read == []
        assert list(begun.found()) == [0, -1, -2]


def test_processes_of_the_crew_stand_back() -> None:
    with crew():
        own, others = os.nice(0), set(measured(_niceness, iter(range(WORTH_A_PROCESS)), WORTH_A_PROCESS))
    assert others == {min(19, own + NICE)}


def _niceness(_: int) -> int:
    return os.nice(0)


def _process(_: int) -> int:
    return os.getpid()


def test_processes_end_with_the_one_that_started_them(tmp_path: Path) -> None:
    """A night that was killed left its processes behind, each with hundreds of megabytes, waiting for work for ever."""
    imported = f"from {__name__} import crew, measured, {_told_and_waited.__name__}"
    n = WORTH_A_PROCESS
    work = f"with crew():\n list(measured({_told_and_waited.__name__}, iter([{str(tmp_path)!r}] * {n}), {n}))"
    with subprocess.Popen([sys.executable, "-c", f"{imported}\n{work}"]) as night:
        try:
            until = time.monotonic() + 60
            while not any(tmp_path.iterdir()) and time.monotonic() < until:
                time.sleep(0.1)
            waiting = psutil.Process(night.pid).children(recursive=True)
        finally:
            night.kill()
    assert len(waiting) >= 2
    _, left = psutil.wait_procs(waiting, timeout=30)
    for one in left:
        one.kill()
    assert not left


def _told_and_waited(folder: str) -> None:
    (Path(folder) / str(os.getpid())).touch()
    time.sleep(60)
