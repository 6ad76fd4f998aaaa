"""A round of nights: sent by hand, waited for, and told; the same for those that the timetable sent."""

from __future__ import annotations

import json
import time
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from httpx import HTTPError
from prefect import get_client
from prefect.client.schemas.filters import (
    ArtifactFilter,
    ArtifactFilterFlowRunId,
    FlowFilter,
    FlowFilterName,
    FlowRunFilter,
    FlowRunFilterExpectedStartTime,
    FlowRunFilterTags,
)
from prefect.client.schemas.objects import StateType
from prefect.client.schemas.sorting import FlowRunSort
from prefect.types import DateTime

from pipelines.flows.federation.nights import Told
from pipelines.flows.federation.places import POOL, REPORT_FLOW
from pipelines.flows.federation.register import deployments, may_begin_again
from schemas.errors import NotFoundError, ScheduleError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from uuid import UUID

    from prefect.client.orchestration import SyncPrefectClient
    from prefect.client.schemas.objects import FlowRun

    from schemas.federation import Federation

_PAGE = 200
_LOOK_S, _SELDOM_S = 1.0, 5.0
"""How often it is asked how a round stands, at its beginning and after a minute."""
_SOON = timedelta(seconds=15)
"""A run that is due later than that is one that is tried again."""
LOST = "lost"
_UNDER_WAY = {
    StateType.SCHEDULED: "waits for a machine",
    StateType.PENDING: "begins",
    StateType.RUNNING: "at work",
    StateType.PAUSED: "paused",
    StateType.CANCELLING: "is ended",
}


@dataclass(frozen=True)
class Standing:
    """How the last night of an academy stands.

    Attributes
    ----------
    academy, state, why, machine : str
        ``state`` as in :class:`Told`, or where its run stands; empty: no night is known.
    due : datetime or None
        When the night was due.
    told : Told or None
        None: the run has told nothing yet.
    """

    academy: str
    state: str = ""
    why: str = ""
    machine: str = ""
    due: datetime | None = None
    told: Told | None = None


@contextmanager
def _client() -> Iterator[SyncPrefectClient]:
    """A client of the server; when that does not answer for two minutes, one line says so."""
    try:
        with get_client(sync_client=True) as client:
            yield client
    except HTTPError as fault:
        raise ScheduleError(
            f"The federation's server does not answer any more ({type(fault).__name__}).",
            "Nights that were sent go on; ask `speedworth federation nights` when server and database are there again.",
        ) from fault


def send_round(federation: Federation, only: Sequence[str] = ()) -> str:
    """Send the nights of all academies, or of those named, to the workers now; the tag by which the round is known.

    Raises
    ------
    NotFoundError
        When the federation has no academy of such a name, or the server was not told of it yet.
    """
    unknown = sorted(set(only) - {academy.name for academy in federation.academies})
    if unknown:
        raise NotFoundError(f"There is no academy {unknown[0]} in federation.toml.", "See `speedworth federation nights`.")
    # The log of a workspace has whole seconds: what began in this one may have missed a file that is there now.
    due = datetime.now(UTC).replace(microsecond=0) + timedelta(seconds=1)
    tag = f"round {due.isoformat()}"
    with _client() as client:
        sent: set[str] = set()
        for deployment in deployments(client):
            for academies in _asked(deployment.parameters.get("academies", []), only):
                parameters = {"academies": academies, "due": due.isoformat()}
                client.create_flow_run_from_deployment(deployment.id, parameters=parameters, tags=[tag])
                sent |= set(academies)
    missing = [name for name in only or [academy.name for academy in federation.academies] if name not in sent]
    if missing:
        raise NotFoundError(
            f"The server does not know {missing[0]} yet.",
            "Start `speedworth federation serve` again after federation.toml was changed.",
        )
    return tag


def _asked(academies: list[str], only: Sequence[str]) -> list[list[str]]:
    if not academies:  # the federation's own report is in no round
        return []
    return [[name] for name in academies if name in only] if only else [academies]


def wait_for(federation: Federation, tag: str, tell: Callable[[str], None]) -> list[Standing]:
    """Wait until every night of a round is done or has failed for good; how each stands."""
    said, begun = "", time.monotonic()
    with _client() as client:
        while True:
            runs = _runs(client, FlowRunFilter(tags=FlowRunFilterTags(all_=[tag])))
            if all(_is_over(run) for run in runs):
                return _standings(client, federation, runs)
            line = progress(runs, datetime.now(UTC)) + ("" if _has_worker(client) else "; no worker has told of itself")
            if line != said:
                tell(line)
                said = line
            time.sleep(min(_SELDOM_S, _LOOK_S + (time.monotonic() - begun) / 15))


def progress(runs: Sequence[FlowRun], now: datetime) -> str:
    """How many runs of a round are over, and when those are tried again that wait for it."""
    n_over = sum(_is_over(run) for run in runs)
    again = [run.expected_start_time for run in runs if not _is_over(run) and run.state_type is StateType.SCHEDULED]
    later = sorted(at for at in again if at is not None and at > now + _SOON)
    told = f"Runs: {n_over} of {len(runs)} over"
    return f"{told}; {len(later)} tried again, next at {later[0].astimezone(UTC):%H:%M} UTC" if later else told


def standings(federation: Federation, since: datetime) -> list[Standing]:
    """How the last night of each academy stands, of those that were due since an instant and until now."""
    due = FlowRunFilterExpectedStartTime(after_=DateTime.instance(since), before_=DateTime.now("UTC"))
    with _client() as client:
        return _standings(client, federation, _runs(client, FlowRunFilter(expected_start_time=due)))


def last_report() -> str:
    """How the federation's pages were last written by a worker, in one line."""
    due = FlowRunFilterExpectedStartTime(before_=DateTime.now("UTC"))
    with _client() as client:
        found = client.read_flow_runs(
            flow_filter=FlowFilter(name=FlowFilterName(any_=[REPORT_FLOW])),
            flow_run_filter=FlowRunFilter(expected_start_time=due),
            sort=FlowRunSort.EXPECTED_START_TIME_DESC,
            limit=1,
        )
    if not found:
        return "Report: not due yet."
    (run,) = found
    when = f"{run.expected_start_time:%Y-%m-%d %H:%M}" if run.expected_start_time else ""
    if run.state is None or not run.state.is_final():
        return f"Report of {when} UTC: {_UNDER_WAY.get(run.state_type or StateType.SCHEDULED, 'at work')}."
    said = run.state.message or run.state.name
    return f"Report of {when} UTC: {said}." if run.state.is_completed() else f"Report of {when} UTC failed: {said}."


def _runs(client: SyncPrefectClient, wanted: FlowRunFilter) -> list[FlowRun]:
    found: list[FlowRun] = []
    while True:
        page = client.read_flow_runs(
            flow_run_filter=wanted, sort=FlowRunSort.EXPECTED_START_TIME_ASC, limit=_PAGE, offset=len(found)
        )
        found += page
        if len(page) < _PAGE:
            return found


def _is_over(run: FlowRun) -> bool:
    """Whether nobody will begin it again; a lost run is, until it was begun too often."""
    if run.state_type is StateType.CRASHED:
        return not may_begin_again(run, datetime.now(UTC))
    return run.state is not None and run.state.is_final()


def _has_worker(client: SyncPrefectClient) -> bool:
    reply = client._client.post(f"/work_pools/{POOL}/workers/filter", json={"limit": 1})
    return any(worker["status"] == "ONLINE" for worker in reply.json())


def _standings(client: SyncPrefectClient, federation: Federation, runs: list[FlowRun]) -> list[Standing]:
    told = _told(client, [run.id for run in runs])
    found: dict[str, Standing] = {}
    for run in runs:
        for academy in run.parameters.get("academies", ()):
            found[academy] = _standing(run, academy, told.get((str(run.id), academy)))
    return [found.get(academy.name, Standing(academy.name)) for academy in federation.academies]


def _standing(run: FlowRun, academy: str, told: Told | None) -> Standing:
    written = run.parameters.get("due")
    due = datetime.fromisoformat(written) if written else run.expected_start_time
    if told is not None and run.state_type is not StateType.RUNNING:
        return Standing(academy, told.state, told.why, told.machine, due, told)
    if run.state_type in _UNDER_WAY:
        return Standing(academy, _UNDER_WAY[run.state_type], due=due)
    message = run.state.message if run.state is not None else None
    return Standing(academy, LOST, message or "its worker or machine was gone, or the night ended it", due=due)


def _told(client: SyncPrefectClient, run_ids: list[UUID]) -> dict[tuple[str, str], Told]:
    """What runs told, by run and academy; of a run that was begun again the last."""
    found: dict[tuple[str, str], Told] = {}
    for ids in (run_ids[at : at + _PAGE] for at in range(0, len(run_ids), _PAGE)):
        for row in _artifact_rows(client, ids):
            found[row[0], row[1]["academy"]] = Told(**row[1])
    return found


def _artifact_rows(client: SyncPrefectClient, ids: list[UUID]) -> Iterator[tuple[str, dict[str, Any]]]:
    wanted = ArtifactFilter(flow_run_id=ArtifactFilterFlowRunId(any_=ids))
    at = 0
    while page := client.read_artifacts(artifact_filter=wanted, limit=_PAGE, offset=at):
        at += len(page)
        for artifact in sorted(page, key=lambda one: one.created or datetime.min.replace(tzinfo=UTC)):
            for row in json.loads(str(artifact.data)):
                yield str(artifact.flow_run_id), row
