"""Serving the flows on their timetable until stopped."""

from __future__ import annotations

import os
import signal
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from pipelines.flows.server import prefect_server
from pipelines.workspace import keep_to_owner

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.workspace import Workspace
    from schemas.academy import Times


@dataclass(frozen=True)
class Timetable:
    """When the flows run; a cron line is read in the academy's time zone.

    Attributes
    ----------
    intake_every : timedelta
    nightly_cron, weekly_cron : str
    """

    intake_every: timedelta = timedelta(minutes=15)
    nightly_cron: str = "30 2 * * *"
    weekly_cron: str = "0 6 * * 1"


def timetable_of(times: Times) -> Timetable:
    """The timetable that academy.toml sets."""
    night, week = times.nightly_at.split(":"), times.weekly_at.split(":")
    return Timetable(
        timedelta(minutes=times.intake_every_min),
        f"{int(night[1])} {int(night[0])} * * *",
        f"{int(week[1])} {int(week[0])} * * 1",
    )


def serve(workspace: Workspace, timetable: Timetable, tell: Callable[[str], None]) -> None:
    """Serve intake, nightly and weekly review until the process is asked to stop; then stop the server that was started.

    Raises
    ------
    SettingsError
        When academy.toml cannot be used.
    ScheduleError
        When no server can be started or reached.
    """
    time_zone = workspace.academy().time_zone
    keep_to_owner()
    signal.signal(signal.SIGTERM, _stop_in_order)
    tell("Starting the timetable's server")
    with suppress(KeyboardInterrupt), prefect_server(workspace) as api_url:
        deployments = _deployments(workspace, timetable, time_zone)
        tell(f"Serving intake, nightly and weekly review; API at {api_url}; stop with Ctrl-C")
        _serve(deployments)


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
        (intake, Interval(timetable.intake_every)),
        (nightly, Cron(timetable.nightly_cron, timezone=time_zone)),
        (weekly, Cron(timetable.weekly_cron, timezone=time_zone)),
    )
    return [flow.to_deployment(_safe_name(folder.name), schedule=schedule, parameters=parameters) for flow, schedule in plan]


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
