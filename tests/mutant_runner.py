"""Tries changes of the code against the quick tests that run the changed function, one after another in one process.

``tests/mutants.py`` starts it where mutmut laid the changed code, with a file of names, a file for the outcomes, and arguments
for pytest. Only a failing test that passes again without the change, right after, is a catch: what a change leaves behind in this
process cannot count as one.
"""

from __future__ import annotations

import functools
import gc
import json
import os
import signal
import sys
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest
from _pytest.runner import runtestprotocol
from mutmut.mutation import trampoline

SECONDS, AGAIN_SECONDS = 20.0, 2.0
"""Of this process, for each change; a test that swallows the end of them is ended again and again."""

_ACTIVE = "MUTANT_UNDER_TEST"
_CACHE = type(functools.cache(int))


def _caches() -> list[Any]:
    """Every function that keeps its results."""
    return [kept for kept in gc.get_objects() if isinstance(kept, _CACHE)]


class OutOfTimeError(Exception):
    """A change has used up its seconds."""


class Trial:
    """A plug-in that runs changes in the place of pytest's own loop over the tests."""

    def __init__(self, names: list[str], outcomes: Path) -> None:
        self.names, self.outcomes, self.late = names, outcomes, False
        self.hit: set[str] = set()
        self.caches: list[Any] = []

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        trampoline.record_trampoline_hit = lambda name, caller=None: self.hit.add(name)
        signal.signal(signal.SIGVTALRM, self._end)
        self.caches = _caches()
        covering = self._covering(session.items)
        self.caches = _caches()  # with those of what was imported meanwhile
        with self.outcomes.open("w", encoding="utf-8") as out:
            for name in self.names:
                out.write(json.dumps([name, self._outcome(name, covering[name.rpartition("__mutmut_")[0]])]) + "\n")
                out.flush()
        return True

    def _covering(self, items: list[pytest.Item]) -> dict[str, list[pytest.Item]]:
        """The tests that run each function, the quickest first."""
        took: dict[pytest.Item, float] = {}
        covering: dict[str, list[pytest.Item]] = defaultdict(list)
        for item in items:
            self.hit.clear()
            begun = time.process_time()
            if not self._passes(item, "stats"):
                raise pytest.UsageError(f"{item.nodeid} fails without any change")
            took[item] = time.process_time() - begun
            for function in self.hit:
                covering[function].append(item)
        for found in covering.values():
            found.sort(key=lambda item: took[item])
        return covering

    def _outcome(self, name: str, items: list[pytest.Item]) -> str:
        if not items:
            return "no quick test runs it"
        self.late = False
        signal.setitimer(signal.ITIMER_VIRTUAL, SECONDS, AGAIN_SECONDS)
        failing = next((item for item in items if not self._passes(item, name)), None)
        signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)
        if self.late:
            return "out of time"
        if failing is None:
            return "survived"
        return "caught" if self._passes(failing, "") else "left something behind"

    def _end(self, *_: Any) -> None:
        self.late = True
        raise OutOfTimeError

    def _passes(self, item: pytest.Item, name: str) -> bool:
        """Whether the test passes with this change, with nothing kept from the one before."""
        for kept in self.caches:
            kept.cache_clear()
        os.environ[_ACTIVE] = name
        try:
            return not self.late and not any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))
        finally:
            os.environ[_ACTIVE] = ""


if __name__ == "__main__":
    names, outcomes, *arguments = sys.argv[1:]
    os.environ[_ACTIVE] = ""
    sys.exit(pytest.main(arguments, plugins=[Trial(Path(names).read_text(encoding="utf-8").split(), Path(outcomes))]))
