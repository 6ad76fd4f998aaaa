from __future__ import annotations

import operator
import os

from pipelines.stages.crew import WORTH_A_PROCESS, crew, measured


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


def _process(_: int) -> int:
    return os.getpid()
