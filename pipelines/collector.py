"""Memory of a process: Python's search for circular garbage, kept out of the way of a start, and what was freed given back.

The libraries of a night make some hundred thousand objects while they are imported, all of which stay. Python looks through them
for circles of garbage some hundred times meanwhile, and again when the process ends: a third of what a start costs.
"""

from __future__ import annotations

import atexit
import ctypes
import gc
import sys

OBJECTS = 20_000
"""So many new objects start a search, where Python has 700; circles that wait for it are a few megabytes."""


def collect_seldom() -> None:
    """Let this process look for circles of garbage less often, and not at all when it ends."""
    gc.set_threshold(OBJECTS, *gc.get_threshold()[1:])
    atexit.register(gc.freeze)


def give_back_memory() -> None:
    """Let the system have what this process has freed: the C library keeps hundreds of megabytes of frames that are gone."""
    if sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)  # of the GNU library; others keep less
        if trim is not None:
            trim(0)
