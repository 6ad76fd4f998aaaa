"""A night that does not end is ended with the process of its run, and told when that is begun again.

No timeout within Python does that: one that raises is swallowed where a night waits for other processes or for a disk that is
away. The run is lost then like one whose machine is gone: it is begun again, in the other order, and does what is left.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from pipelines.flows.federation.places import say
from pipelines.stages.audit_log import last_time, note

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pipelines.workspace import Workspace

ENDED = "night ended: over the limit of time"
_EXIT_CODE = 75


@contextmanager
def ended_after(limit_s: float, workspace: Workspace, academy: str) -> Iterator[None]:
    """End this process and those below it, unless the block is over within ``limit_s`` seconds; 0: no limit.

    The log of the workspace says so before; where it cannot be written, the night is ended all the same.
    """
    if not limit_s:
        yield
        return
    timer = threading.Timer(limit_s, _end, (limit_s, workspace, academy))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def was_ended(workspace: Workspace, since: datetime) -> bool:
    """Whether the night that was due at ``since`` was ended so: it is not tried again by itself."""
    ended = last_time(workspace, ENDED)
    return ended is not None and ended >= since


def _end(limit_s: float, workspace: Workspace, academy: str) -> None:
    say(f"{academy}: its night is not over after {limit_s / 60:.0f} min, and is ended")
    with suppress(OSError):
        note(workspace, datetime.now(UTC), ENDED, minutes=round(limit_s / 60))
    for child in multiprocessing.active_children():
        child.kill()
    os._exit(_EXIT_CODE)
