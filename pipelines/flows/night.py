"""The flows: intake, nightly, weekly review. Each wraps one plain function with retries, a limit of one writer, and artifacts."""

from __future__ import annotations

import hashlib
import os
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from prefect import flow, task
from prefect.artifacts import create_markdown_artifact, create_table_artifact
from prefect.cache_policies import NO_CACHE
from prefect.client.schemas.objects import State
from prefect.concurrency.sync import concurrency
from prefect.states import Failed

from pipelines.flows.due import night_was_missed, review_was_missed
from pipelines.runs import Night, Review, run_night, take_in_waiting, weekly_review
from pipelines.stages.audit_log import INTAKE, NIGHT, REVIEW, note
from pipelines.workspace import find_workspace, pages_are_due
from reports.shelf import list_of
from schemas.errors import SettingsError, SpeedworthError, WarehouseBusyError, WorkspaceError
from schemas.results import IntakeOutcome, NightOutcome

if TYPE_CHECKING:
    from collections.abc import Iterator

    from schemas.academy import Academy

_WAIT_S = 600.0


def writer_limit(workspace: str) -> str:
    """Name of the limit that lets one run at a time write to a workspace, also where several share a server."""
    return f"speedworth-writer-{hashlib.sha256(str(Path(workspace).resolve()).encode()).hexdigest()[:12]}"


SERVED = "SPEEDWORTH_SERVED"
"""Environment variable that names the one workspace which the flows of a served timetable may work on."""


def _night(workspace: str) -> Night:
    served = os.environ.get(SERVED, "")
    if served and Path(workspace).resolve() != Path(served):
        raise WorkspaceError(f"This timetable serves {served}, not {workspace}.", "Start a timetable in that workspace.")
    return Night(find_workspace(Path(workspace)), datetime.now(UTC), wait_s=_WAIT_S)


def worth_another_try(_task: object, _run: object, state: Any) -> bool:
    """Whether time may mend it: a busy warehouse or a fault of the machine may pass, a wrong setting does not."""
    try:
        state.result()
    except WarehouseBusyError:
        return True
    except SpeedworthError:
        return False
    except Exception:  # noqa: BLE001 - whatever the machine did
        return True
    return False


@contextmanager
def _failures_logged(workspace: str, what: str) -> Iterator[None]:
    """Let the workspace's own log say that a run failed, and of what sort the fault was."""
    try:
        yield
    except Exception as fault:
        with suppress(SpeedworthError, OSError):
            note(find_workspace(Path(workspace)), datetime.now(UTC), f"{what} failed: {type(fault).__name__}")
        raise


@task(name="take in", retries=3, retry_delay_seconds=[5, 30, 120], retry_condition_fn=worth_another_try, cache_policy=NO_CACHE)
def intake_task(workspace: str) -> IntakeOutcome:
    """Take in what waits."""
    with concurrency(writer_limit(workspace), occupy=1), _failures_logged(workspace, INTAKE):
        return take_in_waiting(_night(workspace))


@task(name="whole night", retries=2, retry_delay_seconds=[30, 300], retry_condition_fn=worth_another_try, cache_policy=NO_CACHE)
def night_task(workspace: str) -> NightOutcome:
    """Take in, measure, flag, render."""
    with concurrency(writer_limit(workspace), occupy=1), _failures_logged(workspace, NIGHT):
        return run_night(_night(workspace))


@task(name="weekly review", retries=2, retry_delay_seconds=[30, 300], retry_condition_fn=worth_another_try, cache_policy=NO_CACHE)
def review_task(workspace: str) -> Review:
    """Examine the workspace, and make a backup unless the settings say otherwise."""
    with concurrency(writer_limit(workspace), occupy=1), _failures_logged(workspace, REVIEW):
        return weekly_review(_night(workspace))


def _keep_intake(outcome: IntakeOutcome) -> None:
    """Show what was taken in and what was held; nothing when nothing waited."""
    rows = [
        {
            "file": file.name,
            "status": file.status,
            "rows": file.n_rows,
            "loaded": file.n_loaded,
            "quarantined": file.n_quarantined,
            "reason": file.reason,
        }
        for file in outcome.files
    ]
    if rows:
        create_table_artifact(rows, key="intake", description="Files taken in and files held: rows = loaded + quarantined.")


@flow(name="intake", log_prints=False)
def intake(workspace: str) -> State[None] | None:
    """Every few minutes: take in what waits.

    A whole night instead, when the pages are older than the academy wants or the machine was off when one was due; and the weekly
    review after it, when that was missed. Settings that cannot be read are told in one line, each time until they are put right.
    """
    night = _night(workspace)
    try:
        academy = night.workspace.academy()
    except SettingsError as fault:
        note(night.workspace, night.now, f"{INTAKE} failed: {type(fault).__name__}")
        return Failed(message=str(fault))
    _look_into_inbox(workspace, night, academy)
    return None


def _look_into_inbox(workspace: str, night: Night, academy: Academy) -> None:
    is_missed = night_was_missed(night.workspace, academy, night.now)
    is_missed |= night.workspace.rewrite_due.exists()  # what nobody may keep is still on the pages
    if is_missed or pages_are_due(list_of(night.workspace.site), academy.times.pages_every_min, night.now):
        _keep_night(night_task(workspace))
    else:
        _keep_intake(intake_task(workspace))
    if review_was_missed(night.workspace, academy, night.now):  # the log is asked anew: somebody may have made it meanwhile
        _keep_review(review_task(workspace))


@flow(name="nightly", log_prints=False)
def nightly(workspace: str) -> None:
    """Every night: take in, measure, flag, render."""
    _keep_night(night_task(workspace))


def _keep_night(outcome: NightOutcome) -> None:
    _keep_intake(outcome.intake)
    create_markdown_artifact(
        f"- flags open: {outcome.n_flags_open}, new: {outcome.n_flags_new}\n"
        f"- pages written: {outcome.site.n_written}, unchanged: {outcome.site.n_unchanged}\n",
        key="night",
        description="What the night said.",
    )


@flow(name="weekly-review", log_prints=False)
def weekly(workspace: str) -> None:
    """Every Monday: examine the workspace and make a backup."""
    _keep_review(review_task(workspace))


def _keep_review(outcome: Review) -> None:
    lines = [f"- {finding.state}: {finding.about}: {finding.says} {finding.todo}" for finding in outcome.findings]
    if outcome.expired.n_files:
        rows = ", ".join(f"{kind} {n}" for kind, n in outcome.expired.rows.items()) or "none that counted"
        lines.append(f"- older than they are kept: rows: {rows}; files cleaned: {outcome.expired.n_files}")
    if outcome.backup is not None:
        lines.append(f"- backup: {outcome.backup.path.name}, {outcome.backup.n_files} files, {outcome.backup.n_bytes} bytes")
    create_markdown_artifact("\n".join(lines), key="weekly-review", description="State of the workspace.")
