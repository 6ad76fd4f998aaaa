"""The machine's cores, shared by the stages of one night: processes that measure blocks of frames, and nothing else."""

from __future__ import annotations

import os
import threading
from collections import deque
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from multiprocessing import get_context, parent_process
from typing import TYPE_CHECKING, TypeVar

from pipelines.collector import collect_seldom, give_back_memory

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

WORTH_A_PROCESS = 5
"""From how many blocks on a stage asks for processes: starting them takes as long as measuring some dozens of players."""

Given = TypeVar("Given")
Found = TypeVar("Found")


class _Crew:
    """Processes that are started when the first stage has work for them, and end with the night."""

    def __init__(self) -> None:
        self._pool: ProcessPoolExecutor | None = None

    def pool(self) -> ProcessPoolExecutor:
        if self._pool is None:
            # never forked: a library that has started threads would wait for them for ever
            context = get_context("spawn")
            self._pool = ProcessPoolExecutor(os.cpu_count() or 1, mp_context=context, initializer=_begin)
        return self._pool

    @property
    def fewest_blocks(self) -> int:
        """From how many blocks on there is work for processes: from two on once they have been started."""
        return WORTH_A_PROCESS if self._pool is None else 2

    def end(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)


_AT_WORK: ContextVar[_Crew | None] = ContextVar("crew", default=None)


@contextmanager
def crew() -> Iterator[None]:
    """Stages of this block may use all cores; without it they compute in this process, with the same result."""
    one = _Crew()
    token = _AT_WORK.set(one)
    try:
        yield
    finally:
        _AT_WORK.reset(token)
        one.end()


def processes() -> Callable[[], ProcessPoolExecutor] | None:
    """Asked of the crew when there is work for them, for others than stages; None: there is no crew."""
    one = _AT_WORK.get()
    return None if one is None else one.pool


def _begin() -> None:
    """A process of the crew begins: it ends with the one that started it, however that ends."""
    collect_seldom()
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """What a process waits for work by is held open by its like too: of a killed night it would never be told."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _measured(measure: Callable[[Given], Found], block: Given) -> Found:
    """What a process of the crew does with a block."""
    found = measure(block)
    give_back_memory()
    return found


def measured(measure: Callable[[Given], Found], blocks: Iterator[Given], n_blocks: int) -> Iterator[Found]:
    """What a measure finds of each block, in their order; few blocks wait at a time, so that memory stays small."""
    one, n_cores = _AT_WORK.get(), os.cpu_count() or 1
    if one is None or n_cores < 2 or n_blocks < one.fewest_blocks:
        yield from map(measure, blocks)
        return
    waiting: deque[Future[Found]] = deque()
    for block in blocks:
        waiting.append(one.pool().submit(_measured, measure, block))
        if len(waiting) > n_cores:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()
