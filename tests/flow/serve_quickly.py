"""Serves a workspace's flows with an intake every few seconds; started by a test as a process of its own."""

from __future__ import annotations

import sys
from datetime import timedelta
from pathlib import Path

from pipelines.flows.timetable import Timetable, serve
from pipelines.workspace import find_workspace


def tell(step: str) -> None:
    """Say the step at once."""
    print(step, flush=True)  # noqa: T201 - the test reads it


if __name__ == "__main__":
    serve(find_workspace(Path(sys.argv[1])), Timetable(intake_every=timedelta(seconds=5)), tell)
