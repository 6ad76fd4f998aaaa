"""What a timetable should have done by now: after the machine was off, the next look into the inbox does it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from pipelines.stages.audit_log import NIGHT, REVIEW, last_time
from schemas.academy import OFF

if TYPE_CHECKING:
    from pipelines.workspace import Workspace
    from schemas.academy import Academy

MONDAY = 0


def last_due(clock: str, time_zone: str, now: datetime, weekday: int | None = None) -> datetime | None:
    """The last instant (UTC) at which that was to be done; None when it is off.

    Parameters
    ----------
    clock : str
        ``HH:MM`` or ``off``.
    time_zone : str
    now : datetime
    weekday : int or None
        0 is Monday; None: every day.
    """
    if clock == OFF:
        return None
    hour, minute = (int(part) for part in clock.split(":"))
    local = now.astimezone(ZoneInfo(time_zone))
    for days in range(9):
        day = local.date() - timedelta(days=days)
        at = datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZoneInfo(time_zone)).astimezone(UTC)
        if at <= now and weekday in {None, day.weekday()}:
            return at
    raise AssertionError("a week has every weekday")


def night_was_missed(workspace: Workspace, academy: Academy, now: datetime) -> bool:
    """Whether a night was run before, and none since the last time at which one was due."""
    due, done = last_due(academy.times.nightly_at, academy.time_zone, now), last_time(workspace, NIGHT)
    return due is not None and done is not None and done < due


def review_was_missed(workspace: Workspace, academy: Academy, now: datetime) -> bool:
    """Whether a weekly review was made before, and none since the last time at which one was due."""
    due, done = last_due(academy.times.weekly_at, academy.time_zone, now, MONDAY), last_time(workspace, REVIEW)
    return due is not None and done is not None and done < due


def review_is_due(workspace: Workspace, academy: Academy, now: datetime) -> bool:
    """Whether a weekly review was to be made, and none was since; the first one is due at once."""
    due, done = last_due(academy.times.weekly_at, academy.time_zone, now, MONDAY), last_time(workspace, REVIEW)
    return due is not None and (done is None or done < due)
