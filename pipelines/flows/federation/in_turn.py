"""The academies of a run in their turn: behind a night that takes long nobody waits, for the rest becomes a run of its own."""

from __future__ import annotations

import threading
from collections import deque
from typing import TYPE_CHECKING

from pipelines.flows.federation.places import say

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

PATIENCE_S = 600.0
"""After so long in one night those that wait behind it are handed on."""


class InTurn:
    """Gives the academies of a run one after the other, and hands on those that would wait too long.

    Parameters
    ----------
    academies : sequence of str
        In their order.
    hand_on : callable
        Sends some of them to whichever worker is free. Where it cannot, they stay in this run.

    Attributes
    ----------
    handed_on : tuple of str
        Those that are another run's now.
    """

    def __init__(self, academies: Sequence[str], hand_on: Callable[[list[str]], object]) -> None:
        self._waiting = deque(academies)
        self._hand_on = hand_on
        self._one_at_a_time = threading.Lock()
        self.handed_on: tuple[str, ...] = ()

    def __iter__(self) -> Iterator[str]:
        """Each academy that is this run's when its turn comes."""
        while (name := self._next()) is not None:
            timer = threading.Timer(PATIENCE_S, self._hand_on_the_rest)
            timer.daemon = True
            timer.start()
            try:
                yield name
            finally:
                timer.cancel()

    def _next(self) -> str | None:
        with self._one_at_a_time:
            return self._waiting.popleft() if self._waiting else None

    def _hand_on_the_rest(self) -> None:
        with self._one_at_a_time:
            if not self._waiting:
                return
            try:
                self._hand_on(list(self._waiting))
            except Exception as fault:  # noqa: BLE001 - the server may be away; then they wait for their turn here
                say(f"{len(self._waiting)} academies wait longer, for they cannot be handed on: {type(fault).__name__}")
                return
            self.handed_on = tuple(self._waiting)
            self._waiting.clear()
