"""When a served timetable does what is a setting, and a morning's answers reach the pages before the night."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.flows.due import last_due, night_was_missed, review_was_missed
from pipelines.flows.timetable import timetable_of
from pipelines.settings import default_settings, settings_from_text
from pipelines.stages.audit_log import NIGHT, REVIEW, logged, note
from pipelines.workspace import create_workspace, pages_are_due
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
    with pytest.raises(SettingsError, match=r"line \d+: \[times\] nightly_at .* Allowed: a time from 00:00 to 23:59, or"):
        settings_from_text(text)


def test_a_time_may_be_off_but_not_all_of_them() -> None:
    text = default_settings("Lakeside", "Europe/Berlin", intake_every_min=0, nightly_at="off")
    found = timetable_of(settings_from_text(text).times)
    assert (found.intake_every, found.nightly_cron, found.weekly_cron) == (None, "", "0 6 * * 1")
    text = default_settings("Lakeside", "Europe/Berlin", intake_every_min=0, nightly_at="off", weekly_at="off")
    with pytest.raises(SettingsError, match="is off"):
        timetable_of(settings_from_text(text).times)


@pytest.mark.parametrize(
    ("clock", "zone", "weekday", "due"),
    [
        ("02:30", "Europe/Berlin", None, datetime(2026, 1, 13, 1, 30, tzinfo=UTC)),
        ("09:00", "Europe/Berlin", None, datetime(2026, 1, 12, 8, tzinfo=UTC)),  # 08:00 there: not yet today
        ("02:30", "America/Los_Angeles", None, datetime(2026, 1, 12, 10, 30, tzinfo=UTC)),  # it is still Monday there
        ("06:00", "Europe/Berlin", 0, datetime(2026, 1, 12, 5, tzinfo=UTC)),  # a Tuesday: yesterday
        ("off", "Europe/Berlin", None, None),
    ],
)
def test_when_something_was_last_due(clock: str, zone: str, weekday: int | None, due: datetime | None) -> None:
    assert last_due(clock, zone, NOW, weekday) == due


def test_in_the_night_without_that_hour_it_is_due_an_hour_later_by_the_clock() -> None:
    morning = datetime(2026, 3, 29, 7, tzinfo=UTC)  # clocks went from 2 to 3
    assert last_due("02:30", "Europe/Berlin", morning) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)


@pytest.mark.parametrize(("hours", "missed"), [(4, False), (6, True), (50, True), (None, False)])
def test_a_night_that_was_slept_through_is_missed(tmp_path: Path, hours: int | None, missed: bool) -> None:
    made = create_workspace(tmp_path / "w", default_settings("Lakeside", "Europe/Berlin"))
    if hours is not None:
        note(made, NOW - timedelta(hours=hours), NIGHT, files=0)
    note(made, NOW, "player export", rows=3)
    assert night_was_missed(made, made.academy(), NOW) == missed
    note(made, NOW - timedelta(days=8), REVIEW)
    assert review_was_missed(made, made.academy(), NOW)
    note(made, NOW, REVIEW, findings=9)
    assert not review_was_missed(made, made.academy(), NOW)


def test_the_log_reads_what_was_noted_and_leaves_half_a_line_out(tmp_path: Path) -> None:
    made = create_workspace(tmp_path / "w", default_settings("Lakeside", "Europe/Berlin"))
    assert logged(made) == []
    note(made, NOW, "player erase", rows=3, files=1)
    note(made, NOW, "night failed: WarehouseBusyError")
    with made.log.open("a") as log:
        log.write("2026-01-1")
    assert [(line.what, line.counts) for line in logged(made)] == [
        ("player erase", "rows=3 files=1"), ("night failed: WarehouseBusyError", ""),
    ]  # fmt: skip


@pytest.mark.parametrize(("age_min", "every_min", "due"), [(61, 60, True), (59, 60, False), (600, 0, False), (None, 60, False)])
def test_pages_are_due_when_they_are_older_than_wanted(tmp_path: Path, age_min: int | None, every_min: int, due: bool) -> None:
    if age_min is not None:
        made = tmp_path / "pages.json"
        made.touch()
        then = (NOW - timedelta(minutes=age_min)).timestamp()
        os.utime(made, (then, then))
    assert pages_are_due(tmp_path / "pages.json", every_min, NOW) == due
