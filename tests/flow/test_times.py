"""When a served timetable does what is a setting, and a morning's answers reach the pages before the night."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.flows.timetable import timetable_of
from pipelines.settings import default_settings, settings_from_text
from pipelines.workspace import pages_are_due
from schemas.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2026, 1, 13, 7, tzinfo=UTC)


def test_the_times_of_the_settings_are_the_timetables() -> None:
    text = default_settings("Lakeside", "Europe/Berlin", intake_every_min=5, nightly_at="23:05", weekly_at="06:30")
    found = timetable_of(settings_from_text(text).times)
    assert found.intake_every == timedelta(minutes=5)
    assert (found.nightly_cron, found.weekly_cron) == ("5 23 * * *", "30 6 * * 1")


@pytest.mark.parametrize("wrong", ["24:00", "7:30", "noon", "07:60"])
def test_a_time_that_no_clock_shows_is_refused_with_its_line(wrong: str) -> None:
    text = default_settings("Lakeside", "Europe/Berlin", nightly_at=wrong)
    with pytest.raises(SettingsError, match=r"line \d+: \[times\] nightly_at .* Allowed: a time from 00:00 to 23:59"):
        settings_from_text(text)


@pytest.mark.parametrize(("age_min", "every_min", "due"), [(61, 60, True), (59, 60, False), (600, 0, False), (None, 60, False)])
def test_pages_are_due_when_they_are_older_than_wanted(tmp_path: Path, age_min: int | None, every_min: int, due: bool) -> None:
    if age_min is not None:
        made = tmp_path / "pages.json"
        made.touch()
        then = (NOW - timedelta(minutes=age_min)).timestamp()
        os.utime(made, (then, then))
    assert pages_are_due(tmp_path, every_min, NOW) == due
