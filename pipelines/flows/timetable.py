"""Serving the flows on their timetable until stopped."""

from __future__ import annotations

import os
import signal
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from filelock import FileLock, Timeout

from pipelines.flows.server import prefect_server
from pipelines.workspace import keep_to_owner
from schemas.academy import OFF
from schemas.errors import ScheduleError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from pipelines.workspace import Workspace
    from schemas.academy import Times


@dataclass(frozen=True)
class Timetable:
    """When the flows run; a cron line is read in the academy's time zone.

    Attributes
    ----------
    intake_every : timedelta or None
    nightly_cron, weekly_cron : str
        None or empty: not at all.
    """

    intake_every: timedelta | None = timedelta(minutes=15)
    nightly_cron: str = "30 2 * * *"
    weekly_cron: str = "0 6 * * 1"


def timetable_of(times: Times) -> Timetable:
    """The timetable that academy.toml sets.

    Raises
    ------
    SettingsError
        When everything is off.
    """
    found = Timetable(
        timedelta(minutes=times.intake_every_min) if times.intake_every_min else None,
        _cron(times.nightly_at, "* * *"),
        _cron(times.weekly_at, "* * 1"),
    )
    if found == Timetable(None, "", ""):
        raise SettingsError("Everything in [times] of academy.toml is off.", "Give at least one of them a time.")
    return found


def _cron(clock: str, days: str) -> str:
    if clock == OFF:
        return ""
    hour, minute = clock.split(":")
    return f"{int(minute)} {int(hour)} {days}"


def serve(workspace: Workspace, timetable: Timetable, tell: Callable[[str], None]) -> None:
    """Serve intake, nightly and weekly review until the process is asked to stop; then stop the server that was started.

    Raises
    ------
    SettingsError
        When academy.toml cannot be used.
    ScheduleError
        When no server can be started or reached, or the workspace has a timetable already.
    """
    time_zone = workspace.academy().time_zone
    keep_to_owner()
    signal.signal(signal.SIGTERM, _stop_in_order)
    with suppress(KeyboardInterrupt), alone(workspace):
        tell("Starting the timetable's server")
        with prefect_server(workspace) as api_url:
            deployments = _deployments(workspace, timetable, time_zone)
            tell(f"Serving intake, nightly and weekly review; API at {api_url}; stop with Ctrl-C")
            _serve(deployments)


@contextmanager
def alone(workspace: Workspace) -> Iterator[None]:
    """Keep a second timetable out within the block: it would do every night and every review once more.

    Raises
    ------
    ScheduleError
        When there is one already.
    """
    place = workspace.root / ".prefect" / "timetable.lock"
    place.parent.mkdir(exist_ok=True)
    lock = FileLock(place, mode=0o600, thread_local=False)
    try:
        lock.acquire(timeout=0)
    except Timeout as held:
        raise ScheduleError(
            f"Another timetable serves {workspace.root} already.",
            "Leave it to that one; or stop it first, by Ctrl-C or as a service of the machine.",
        ) from held
    try:
        yield
    finally:
        lock.release()


def _stop_in_order(_signal: int, _frame: object) -> None:
    raise KeyboardInterrupt


def _deployments(workspace: Workspace, timetable: Timetable, time_zone: str) -> list[Any]:
    from prefect.schedules import Cron, Interval  # noqa: PLC0415 - Prefect reads its settings from the environment when imported

    from pipelines.flows.night import SERVED, intake, nightly, weekly  # noqa: PLC0415 - the same

    folder = workspace.root.resolve()
    os.environ[SERVED] = str(folder)
    parameters = {"workspace": str(folder)}
    _limit_writers(str(folder))
    plan = (
        (intake, Interval(timetable.intake_every) if timetable.intake_every else None),
        (nightly, Cron(timetable.nightly_cron, timezone=time_zone) if timetable.nightly_cron else None),
        (weekly, Cron(timetable.weekly_cron, timezone=time_zone) if timetable.weekly_cron else None),
    )
    name = _safe_name(folder.name)
    return [flow.to_deployment(name, schedule=schedule, parameters=parameters) for flow, schedule in plan if schedule is not None]


def _safe_name(name: str) -> str:
    return "".join(letter if letter.isalnum() or letter in "-_. " else "-" for letter in name) or "academy"


def _limit_writers(workspace: str) -> None:
    """One writer at a time, whoever starts the run."""
    from prefect import get_client  # noqa: PLC0415 - the same

    from pipelines.flows.night import writer_limit  # noqa: PLC0415 - the same

    with get_client(sync_client=True) as client:
        client.upsert_global_concurrency_limit_by_name(writer_limit(workspace), 1)


def _serve(deployments: list[Any]) -> None:
    from prefect import serve as serve_deployments  # noqa: PLC0415 - the same

    serve_deployments(*deployments, limit=1, print_starting_message=False)
