"""What the server is told: the pool, a queue for each set of machines, the runs, and what to do when one is lost."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from prefect import get_client
from prefect.automations import AutomationCore, EventTrigger, Posture
from prefect.client.schemas.actions import WorkPoolCreate
from prefect.client.schemas.filters import (
    FlowRunFilter,
    FlowRunFilterState,
    FlowRunFilterStateType,
    WorkQueueFilter,
    WorkQueueFilterName,
)
from prefect.client.schemas.objects import StateType
from prefect.deployments.runner import RunnerDeployment
from prefect.events import emit_event
from prefect.events.actions import ChangeFlowRunState
from prefect.schedules import Cron
from prefect.states import Scheduled
from prefect.types.entrypoint import EntrypointType

from pipelines.flows.federation.nights import federation_nights
from pipelines.flows.federation.places import LOST_AFTER_S, MOST_HOURS, MOST_RUNS, NEVER_BEGUN_S, POOL, limit_of
from pipelines.flows.federation.plan import batches_of, report_batches
from pipelines.flows.federation.report import federation_report

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prefect.client.orchestration import SyncPrefectClient
    from prefect.client.schemas.objects import FlowRun
    from prefect.client.schemas.responses import DeploymentResponse

    from pipelines.flows.federation.plan import Batch
    from schemas.federation import Federation

_PAGE, _FRESH_S = 200, 15.0
_JOB = {
    # Fixed here, so that no deployment can name another command.
    "job_configuration": {"command": "python -m pipelines.flows.federation.one_run", "env": {}, "stream_output": True},
    "variables": {"type": "object", "properties": {}},
}
_ENDS = {
    f"prefect.flow-run.{state}" for state in ("Completed", "Failed", "Crashed", "Cancelled", "TimedOut", "Scheduled", "Late")
}
_BEAT = "prefect.flow-run.heartbeat"


def register(federation: Federation) -> int:
    """Bring the server to what federation.toml says, and take out what has gone; number of runs of a round."""
    batches = batches_of(federation)
    with get_client(sync_client=True) as client:
        client.create_work_pool(WorkPoolCreate(name=POOL, type="process", base_job_template=_JOB), overwrite=True)
        _make_queues(client, federation.queues)
        _limit_academies(client, [academy.name for academy in federation.academies])
        _keep_automations(client)
        deployed = (*batches, *report_batches(federation))
        for batch in deployed:
            _deploy(batch)
        wanted = {batch.name for batch in deployed}
        for deployment in deployments(client):
            if deployment.name not in wanted:
                client.delete_deployment(deployment.id)
    return len(batches)


def deployments(client: SyncPrefectClient) -> Iterator[DeploymentResponse]:
    """Every run that the server knows of a round."""
    found: list[DeploymentResponse] = []
    while True:
        page = client.read_deployments(limit=_PAGE, offset=len(found))
        found += page
        if len(page) < _PAGE:
            return iter(found)


def _make_queues(client: SyncPrefectClient, names: tuple[str, ...]) -> None:
    for name in names:
        same = WorkQueueFilter(name=WorkQueueFilterName(any_=[name]))
        if not client.read_work_queues(work_pool_name=POOL, work_queue_filter=same):
            client.create_work_queue(name=name, work_pool_name=POOL)


def _limit_academies(client: SyncPrefectClient, names: list[str]) -> None:
    """One run at a time for each academy, whoever sends it."""
    known: dict[str, int] = {}
    while page := client.read_global_concurrency_limits(limit=_PAGE, offset=len(known)):
        known |= {limit.name: limit.limit for limit in page}
    wanted = {limit_of(name) for name in names}
    for name in sorted(wanted - {name for name, limit in known.items() if limit == 1}):
        client.upsert_global_concurrency_limit_by_name(name, 1)
    for name in sorted(set(known) - wanted):
        client.delete_global_concurrency_limit_by_name(name)


def _deploy(batch: Batch) -> None:
    RunnerDeployment.from_flow(
        federation_nights if batch.academies else federation_report,
        batch.name,
        schedule=Cron(batch.cron, timezone=batch.time_zone) if batch.cron else None,
        parameters={"academies": list(batch.academies)} if batch.academies else {},
        work_pool_name=POOL,
        work_queue_name=batch.queue,
        entrypoint_type=EntrypointType.MODULE_PATH,
    ).apply()


def _automations() -> tuple[AutomationCore, ...]:
    each = {"prefect.resource.id"}
    runs: dict[str, str | list[str]] = {"prefect.resource.id": "prefect.flow-run.*"}
    silent = EventTrigger(
        match=runs,
        for_each=each,
        after={_BEAT},
        expect={_BEAT, *_ENDS},
        posture=Posture.Proactive,
        threshold=1,
        within=timedelta(seconds=LOST_AFTER_S),
    )
    never_begun = EventTrigger(
        match=runs,
        for_each=each,
        after={"prefect.flow-run.Pending"},
        expect={"prefect.flow-run.Running", *_ENDS},
        posture=Posture.Proactive,
        threshold=1,
        within=timedelta(seconds=NEVER_BEGUN_S),
    )
    crashed = EventTrigger(
        match=runs | {"prefect.run-count": [str(n) for n in range(1, MOST_RUNS)]},
        for_each=each,
        expect={"prefect.flow-run.Crashed"},
        posture=Posture.Reactive,
        threshold=1,
        within=timedelta(seconds=0),
    )
    lost = _change(StateType.CRASHED, "Nothing was heard of it: its worker or its machine is gone.")
    again = _change(StateType.SCHEDULED, "Another worker takes it.", force=True)
    return (
        AutomationCore(name="a run that falls silent is lost", trigger=silent, actions=[lost]),
        AutomationCore(name="a run that never begins is lost", trigger=never_begun, actions=[lost]),
        AutomationCore(name="a lost run is begun again", trigger=crashed, actions=[again]),
    )


def _change(to: StateType, message: str, *, force: bool = False) -> ChangeFlowRunState:
    return ChangeFlowRunState(state=to, name=None, message=message, force=force)


def _keep_automations(client: SyncPrefectClient) -> None:
    """Make those that are not there as they are wanted.

    One that is right stays untouched: an update would forget whose silence it is measuring.
    """
    for automation in _automations():
        automation.description = hashlib.sha256(automation.model_dump_json().encode()).hexdigest()
        known = client.read_automations_by_name(automation.name)
        for other in known:
            if other.description != automation.description:
                client.delete_automation(other.id)
        if not any(other.description == automation.description for other in known):
            client.create_automation(automation)


def listen_for_life() -> int:
    """Begin to measure the silence of every run under way, as if it had just been heard; how many there are.

    What was being measured may have been lost with a server that was ended. Who lives is heard again in time.
    """
    with get_client(sync_client=True) as client:
        found = _runs_that_are(client, StateType.PENDING, StateType.RUNNING)
    for run in found:
        emit_event(_BEAT, resource={"prefect.resource.id": f"prefect.flow-run.{run.id}", "prefect.resource.name": run.name})
    return len(found)


def begin_lost_again() -> int:
    """Begin again what was lost before it had begun, and what no automation saw being lost; how many there were.

    The automation leaves out what never began: a worker that cannot start any run would take it again at once, without end.
    """
    now = datetime.now(UTC)
    with get_client(sync_client=True) as client:
        found = [
            run for run in _runs_that_are(client, StateType.CRASHED) if may_begin_again(run, now) and not _is_fresh(run, now)
        ]
        for run in found:
            client.set_flow_run_state(run.id, Scheduled(message="Another worker takes it."), force=True)
    return len(found)


def may_begin_again(run: FlowRun, now: datetime) -> bool:
    """Whether a run that was lost is begun again."""
    due = run.expected_start_time or now
    return run.run_count < MOST_RUNS and now - due < timedelta(hours=MOST_HOURS)


def _is_fresh(run: FlowRun, now: datetime) -> bool:
    """Whether the automation may still be about to begin it again."""
    return run.state is not None and now - run.state.timestamp < timedelta(seconds=_FRESH_S)


def _runs_that_are(client: SyncPrefectClient, *states: StateType) -> list[FlowRun]:
    wanted = FlowRunFilter(state=FlowRunFilterState(type=FlowRunFilterStateType(any_=list(states))))
    found: list[FlowRun] = []
    while page := client.read_flow_runs(flow_run_filter=wanted, limit=_PAGE, offset=len(found)):
        found += page
    return found
