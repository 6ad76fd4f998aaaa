"""The flow that a worker runs: the nights of some academies, one after the other; what fails is sent again by itself.

What goes back to the server is names, times, exit states and counts. A fault is told there by its kind; its words stay on the
machine that holds the data, in the output of the worker.
"""

from __future__ import annotations

import os
import time
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from prefect import flow, runtime
from prefect.artifacts import create_table_artifact
from prefect.concurrency.sync import concurrency
from prefect.deployments import run_deployment
from prefect.states import Completed, Crashed, Failed

from pipelines.federation import FederationFolder
from pipelines.flows.due import review_is_due
from pipelines.flows.federation.in_turn import InTurn
from pipelines.flows.federation.limit import ended_after, was_ended
from pipelines.flows.federation.places import ARTIFACT, FLOW, FOLDER, LEASE_S, MACHINE, limit_of, say
from pipelines.runs import Night, run_due_night, weekly_review
from pipelines.stages.audit_log import NIGHT, note
from pipelines.workspace import find_workspace, keep_to_owner
from schemas.errors import SettingsError, SpeedworthError, WarehouseBusyError, WorkspaceError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from prefect import State

    from pipelines.workspace import Workspace
    from schemas.federation import Federation
    from schemas.results import NightOutcome

DONE, DONE_BEFORE, FAILED, AGAIN = "done", "done before", "failed", "tried again later"
OVER_LIMIT = "not over within night_limit_min"
_TIME_MAY_MEND = (WarehouseBusyError, WorkspaceError)
"""A folder that cannot be reached now may be there in an hour; a wrong setting stays wrong."""


@dataclass(frozen=True)
class Told:
    """What the server is told of one academy's night.

    Attributes
    ----------
    academy : str
    state : str
    why : str
        Kind of the fault; empty where there was none.
    machine : str
    files, rows, loaded, held : int or None
        Taken in; None: the night was not done in this run.
    took_s : float
    """

    academy: str
    state: str
    why: str
    machine: str
    files: int | None
    rows: int | None
    loaded: int | None
    held: int | None
    took_s: float


@flow(name=FLOW, log_prints=False, persist_result=False)
def federation_nights(academies: list[str], due: str = "", tried: int = 0) -> State[Any]:
    """The nights of these academies that were due at an instant: by default the one at which the run was to begin.

    Parameters
    ----------
    academies : list of str
        Names in federation.toml.
    due : str
        ISO 8601, with its offset.
    tried : int
        How often these nights have failed before.
    """
    keep_to_owner()
    try:
        return _nights(academies, due, tried)
    except Exception as fault:  # noqa: BLE001 - no night's own fault: server or machine gave way, and it is begun again
        return Crashed(message=f"{type(fault).__name__} beside the nights")


def _nights(academies: list[str], due: str, tried: int) -> State[Any]:
    federation = FederationFolder(Path(os.environ[FOLDER])).federation()
    since = datetime.fromisoformat(due) if due else runtime.flow_run.scheduled_start_time
    own = _OwnRun(runtime.deployment.id, tuple(runtime.flow_run.tags))
    ordered = in_order(academies, runtime.flow_run.run_count)
    in_turn = InTurn(ordered, lambda rest: own.send(rest, since, tried, datetime.now(UTC), f"rest of {runtime.flow_run.id}"))
    told = [_sent_again(_night_of(federation, name, since), federation, since, tried, own) for name in in_turn]
    create_table_artifact([asdict(one) for one in told], key=ARTIFACT, description="Names, times, exit states and counts.")
    failed = [f"{one.academy} ({one.why})" for one in told if one.state == FAILED]
    n_done = sum(one.state in {DONE, DONE_BEFORE} for one in told)
    message = f"{n_done} of {len(told)} nights done"
    if in_turn.handed_on:
        message += f"; handed on: {', '.join(in_turn.handed_on)}"
    if failed:
        return Failed(message=f"{message}; failed: {', '.join(failed)}")
    return Completed(message=message)


@dataclass(frozen=True)
class _OwnRun:
    """By what another run like this one is sent: its deployment, and the tags by which its round is known."""

    deployment_id: str
    tags: tuple[str, ...]

    def send(self, academies: list[str], since: datetime, tried: int, begins_at: datetime, key: str) -> None:
        """``key``: a run that is lost after this, and done again, sends no second one."""
        run_deployment(
            self.deployment_id,
            parameters={"academies": academies, "due": since.isoformat(), "tried": tried},
            scheduled_time=begins_at,
            idempotency_key=key,
            tags=list(self.tags),
            timeout=0,
            as_subflow=False,
        )


def in_order(academies: Sequence[str], n_begun: int) -> list[str]:
    """The order in which a run takes its academies: turned round each time that it is begun again.

    What ended the run before it was done comes last then, and holds up no other.
    """
    return list(academies if n_begun % 2 else reversed(academies))


def _night_of(federation: Federation, name: str, since: datetime) -> Told:
    begun, machine = time.monotonic(), os.environ[MACHINE]
    workspace: Workspace | None = None
    try:
        workspace = workspace_of(federation, name, machine)
        if was_ended(workspace, since):
            return Told(name, FAILED, OVER_LIMIT, machine, None, None, None, None, 0.0)
        # Whoever held it and is gone: its lease ends before this does. Whoever holds it still: this night is sent again.
        taken = concurrency(limit_of(name), occupy=1, timeout_seconds=LEASE_S + 15, lease_duration=LEASE_S)
        with taken, ended_after(federation.night_limit_min * 60.0, workspace, name):
            outcome = _night_and_review(workspace, since)
    except Exception as fault:  # noqa: BLE001 - whatever happens to one academy must not keep the others waiting
        return _failed(name, workspace, fault, machine, time.monotonic() - begun)
    took = round(time.monotonic() - begun, 1)
    if outcome is None:
        return Told(name, DONE_BEFORE, "", machine, None, None, None, None, took)
    held = sum(file.status == "held" for file in outcome.intake.files)
    n_files, n_rows, n_loaded = len(outcome.intake.files), outcome.intake.n_rows, outcome.intake.n_loaded
    return Told(name, DONE, "", machine, n_files, n_rows, n_loaded, held, took)


def workspace_of(federation: Federation, name: str, machine: str) -> Workspace:
    """The workspace of an academy, as this machine's own federation.toml names it.

    Raises
    ------
    SettingsError
        When it is not listed there, or not for this machine.
    WorkspaceError
        When there is none in that folder.
    """
    academy = next((one for one in federation.academies if one.name == name), None)
    if academy is None:
        raise SettingsError(
            f"federation.toml of {machine} does not list {name}.", "Copy the newer one from the server's machine."
        )
    if not academy.is_done_by(machine):
        raise SettingsError(
            f"The data of {name} are not on {machine}, says federation.toml.", f"They are on {', '.join(academy.machines)}."
        )
    return find_workspace(academy.workspace)


def _night_and_review(workspace: Workspace, since: datetime) -> NightOutcome | None:
    outcome = run_due_night(Night(workspace, datetime.now(UTC)), since)
    now = datetime.now(UTC)
    if review_is_due(workspace, workspace.academy(), now):
        weekly_review(Night(workspace, now))
    return outcome


def _failed(name: str, workspace: Workspace | None, fault: Exception, machine: str, took_s: float) -> Told:
    why = type(fault).__name__
    say(f"{name}: {why}: {' '.join(str(fault).split())}")
    if workspace is not None:
        try:
            note(workspace, datetime.now(UTC), f"{NIGHT} failed: {why}")
        except OSError as also:
            say(f"{name}: its log cannot be written: {also}")
    mends = isinstance(fault, _TIME_MAY_MEND) or not isinstance(fault, SpeedworthError)
    return Told(name, AGAIN if mends else FAILED, why, machine, None, None, None, None, round(took_s, 1))


def _sent_again(told: Told, federation: Federation, since: datetime, tried: int, own: _OwnRun) -> Told:
    """A night that time may mend becomes a run of its own, later; after the last try it has failed.

    Prefect's own retries of a task or a flow wait within the run, and a worker that waits does nobody's night.
    """
    if told.state != AGAIN:
        return told
    if tried + 1 >= federation.tries:
        return Told(**(asdict(told) | {"state": FAILED}))
    again_at = datetime.now(UTC) + timedelta(minutes=federation.again_after_min * 4**tried)
    own.send([told.academy], since, tried + 1, again_at, f"{told.academy} {since.isoformat()} {tried + 1}")
    return told
