"""Memory of a process: Python's search for circular garbage, kept out of the way of a start, and what was freed given back.

The libraries of a night make some hundred thousand objects while they are imported, all of which stay. Python looks through them
for circles of garbage some hundred times meanwhile, and again when the process ends: a third of what a start costs.
"""

from __future__ import annotations

import atexit
import ctypes
import gc
import os
import sys
from pathlib import Path

OBJECTS = 20_000
"""So many new objects start a search, where Python has 700; circles that wait for it are a few megabytes."""


def collect_seldom() -> None:
    """Let this process look for circles of garbage less often, and not at all when it ends."""
    gc.set_threshold(OBJECTS, *gc.get_threshold()[1:])
    atexit.register(gc.freeze)


WORTH_BYTES = 64 * 2**20
"""Memory is given back when a process holds so much more than after the last time: it takes some milliseconds."""

_held = 0


def give_back_memory() -> None:
    """Let the system have what this process has freed: the C library keeps hundreds of megabytes of frames that are gone."""
    global _held  # noqa: PLW0603 - of this process
    if sys.platform != "linux":
        return
    resident = _resident()
    if resident < _held + WORTH_BYTES:
        _held = min(_held, resident)
        return
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)  # of the GNU library; others keep less
    if trim is not None:
        trim(0)
    _held = _resident()


def _resident() -> int:
    """Bytes of memory that this process holds, as Linux tells."""
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")
