"""The console script whose timetable takes files in every few seconds; started by a test as a process of its own."""

from __future__ import annotations

from datetime import timedelta

from pipelines.cli.main import run
from pipelines.flows import timetable

if __name__ == "__main__":
    timetable.timetable_of = lambda _: timetable.Timetable(intake_every=timedelta(seconds=5))
    run()
