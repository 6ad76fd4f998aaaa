"""The log of what was done to a workspace: one line each, with counts and no personal value."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipelines.workspace import Workspace

NIGHT, INTAKE, REVIEW = "night", "intake", "weekly review"
_JUMP, _SETTLED = timedelta(days=60), timedelta(days=28)
_LINE = re.compile(r"(?P<at>\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ) (?P<what>[^=\n]*?)(?P<counts>(?: \w+=\S+)*)")


@dataclass(frozen=True)
class Logged:
    """One line of the log.

    Attributes
    ----------
    at : datetime
        UTC.
    what : str
    counts : str
        As written: ``name=count`` with blanks between.
    """

    at: datetime
    what: str
    counts: str


def note(workspace: Workspace, now: datetime, what: str, **counts: int) -> None:
    """Append one line: when, what, how many."""
    numbers = " ".join(f"{name}={count}" for name, count in counts.items())
    with workspace.log.open("a", encoding="utf-8") as log:
        log.write(f"{now.astimezone(UTC).strftime('%Y-%m-%dT%H:%M:%SZ')} {what} {numbers}".rstrip() + "\n")


def logged(workspace: Workspace) -> list[Logged]:
    """The lines of the log, the oldest first; empty before anything was done. A line cut off by a crash is left out."""
    try:
        text = workspace.log.read_text(encoding="utf-8")
    except FileNotFoundError:
        return []
    found = (_LINE.fullmatch(line) for line in text.splitlines())
    return [
        Logged(datetime.strptime(line["at"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC), line["what"], line["counts"].strip())
        for line in found
        if line is not None
    ]


def last_time(workspace: Workspace, what: str) -> datetime | None:
    """When that was last done; None: never."""
    return next((line.at for line in reversed(logged(workspace)) if line.what == what), None)


def clock_jumped(workspace: Workspace, now: datetime) -> bool:
    """Whether, by the log, the clock went more than sixty days on, or back, within the last four weeks that it shows.

    So it does after a long pause, and so does a clock that is set wrong: what cannot be undone waits until it is known which.
    """
    times = [*(line.at for line in logged(workspace)), now]
    jumps = [after for before, after in pairwise(times) if abs(after - before) > _JUMP]
    return bool(jumps) and now - jumps[-1] < _SETTLED
