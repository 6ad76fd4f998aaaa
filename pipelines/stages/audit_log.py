"""The log of what was done to a workspace beside runs: one line each, with counts and no personal value."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from pipelines.workspace import Workspace


def note(workspace: Workspace, now: datetime, what: str, **counts: int) -> None:
    """Append one line: when, what, how many."""
    numbers = " ".join(f"{name}={count}" for name, count in counts.items())
    with workspace.log.open("a", encoding="utf-8") as log:
        log.write(f"{now.strftime('%Y-%m-%dT%H:%M:%SZ')} {what} {numbers}".rstrip() + "\n")
