"""The machine's cores, shared by the stages of one night: processes that measure blocks of frames, and nothing else."""

from __future__ import annotations

import os
import threading
from collections import deque
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from itertools import islice
from multiprocessing import get_context, parent_process
from typing import TYPE_CHECKING, Generic, Protocol, TypeVar

from pipelines.collector import collect_seldom, give_back_memory

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

WORTH_A_PROCESS = 5
"""From how many blocks on a stage asks for processes: starting them takes as long as measuring some dozens of players."""

NICE = 5
"""By so much processes of the crew stand back."""

Given = TypeVar("Given")
Found = TypeVar("Found")


class Ahead(Protocol):
    """A stage that was begun before its step: the crew measures it while this process does what it does alone."""

    def go_on(self) -> None:
        """Write what need not be waited for, and hand over more."""


class _Crew:
    """Processes that are started when the first stage has work for them, and end with the night.

    Attributes
    ----------
    ahead : dict of str to Ahead
        What was begun before its step, by stage.
    """

    def __init__(self) -> None:
        self._pool: ProcessPoolExecutor | None = None
        self.ahead: dict[str, Ahead] = {}

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


def ahead() -> dict[str, Ahead] | None:
    """What was begun before its step, by stage; None: there is no crew, so nothing is."""
    one = _AT_WORK.get()
    return None if one is None else one.ahead


def go_on() -> None:
    """Write what has been found by now of all that was begun ahead, and hand over more; this waits for nothing."""
    for one in (ahead() or {}).values():
        one.go_on()


def _begin() -> None:
    """A process of the crew begins: it ends with the one that started it, however that ends.

    It gives way to that one, which has work for which no other can stand in, and to whoever asks the desk for a page meanwhile.
    """
    if hasattr(os, "nice"):
        os.nice(NICE)
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


class Round(Generic[Given, Found]):
    """Blocks that processes of the crew measure, in their order; without them this process does, block by block as it is asked.

    Few blocks wait at a time, so that memory stays small.

    Parameters
    ----------
    measure : callable
        A pure function at the top of a module.
    blocks : iterator
        Read as they are handed over.
    n_blocks : int
    n_ahead : int
        Blocks that are handed over at once, and kept waiting while this process does other work.
    """

    def __init__(self, measure: Callable[[Given], Found], blocks: Iterator[Given], n_blocks: int, n_ahead: int = 0) -> None:
        one, self._n_cores = _AT_WORK.get(), os.cpu_count() or 1
        self._crew = None if one is None or self._n_cores < 2 or n_blocks < one.fewest_blocks else one
        self._measure, self._blocks, self._n_ahead = measure, blocks, n_ahead
        self._waiting: deque[Future[Found]] = deque()
        self._hand_over(n_ahead)

    def found_by_now(self) -> Iterator[Found]:
        """What need not be waited for; as many blocks are handed over again."""
        while self._waiting and self._waiting[0].done():
            found = self._waiting.popleft().result()
            self._hand_over(self._n_ahead)
            yield found

    def found(self) -> Iterator[Found]:
        """What is found of all blocks that were not told of before."""
        if self._crew is None:
            yield from map(self._measure, self._blocks)
            return
        self._hand_over(self._n_cores + 1)
        while self._waiting:
            yield self._waiting.popleft().result()
            self._hand_over(self._n_cores + 1)

    def _hand_over(self, n_waiting: int) -> None:
        """Let at least so many blocks wait, while there are any."""
        if self._crew is not None:
            for block in islice(self._blocks, max(0, n_waiting - len(self._waiting))):
                self._waiting.append(self._crew.pool().submit(_measured, self._measure, block))


def measured(measure: Callable[[Given], Found], blocks: Iterator[Given], n_blocks: int) -> Iterator[Found]:
    """What a measure finds of each block, in their order."""
    return Round(measure, blocks, n_blocks).found()
