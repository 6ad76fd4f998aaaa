"""Examining a workspace: what is fine, what wants a look, what is broken, each with what to do. Changes nothing."""

from __future__ import annotations

import platform
import shutil
from importlib import metadata
from typing import TYPE_CHECKING

from pipelines.stages.desk_view import limited_groups
from pipelines.stages.doctor_kept import (
    backup_findings,
    block_findings,
    copy_findings,
    link_findings,
    mapping_findings,
    original_findings,
    page_findings,
)
from pipelines.stages.doctor_sharing import sharing_findings
from pipelines.stages.doctor_standing import standing_findings
from pipelines.stages.finding import Finding, broken
from pipelines.stages.intake.discover import left_alone, waiting_files
from pipelines.stages.intake.originals import n_originals
from pipelines.workspace import is_held, require_writable
from schemas.course import DEFAULT_COURSES
from schemas.errors import (
    SettingsError,
    SpeedworthError,
    WarehouseBusyError,
    WarehouseCorruptError,
    WarehouseError,
    WorkspaceError,
)
from warehouse.connection import frame, open_warehouse, scalar
from warehouse.migrate import audits, migrations

if TYPE_CHECKING:
    from collections.abc import Callable

    import duckdb

    from pipelines.workspace import Workspace

_LEAST_FREE_BYTES = 1_000_000_000


def _versions(_: Workspace) -> list[Finding]:
    parts = ", ".join(f"{name} {metadata.version(name)}" for name in ("speedworth", "duckdb", "polars", "prefect"))
    return [Finding("versions", f"{parts}, Python {platform.python_version()}")]


def _settings(workspace: Workspace) -> list[Finding]:
    try:
        academy = workspace.academy()
    except SettingsError as fault:
        return [broken("settings", fault)]
    return [Finding("settings", f"{academy.name}, {academy.time_zone}, {academy.units.speed} and {academy.units.length}")]


def _folders(workspace: Workspace) -> list[Finding]:
    try:
        require_writable(workspace)
    except WorkspaceError as fault:
        return [broken("folders", fault)]
    return [Finding("folders", "all can be written")]


def _disk(workspace: Workspace) -> list[Finding]:
    free = shutil.disk_usage(workspace.root).free
    says = f"{free / 1e9:.1f} GB free"
    if free < _LEAST_FREE_BYTES:
        return [Finding("disk", says, "look", "Make room: a run needs up to three times the size of academy.duckdb.")]
    return [Finding("disk", says)]


def _lock(workspace: Workspace) -> list[Finding]:
    try:
        says = "another process is at work now" if is_held(workspace) else "free"
    except OSError as fault:  # a folder that cannot be written has findings of its own
        says = f"cannot be told: {fault.strerror}"
    return [Finding("lock", says)]


def _waiting(workspace: Workspace) -> list[Finding]:
    n, alone = len(waiting_files(workspace.root)), left_alone(workspace.root)
    told = [f"{n} {'file waits' if n == 1 else 'files wait'}"] if n else []
    told += [f"{len(alone)} left alone, hidden or still being copied: {', '.join(alone[:5])}"] if alone else []
    if not told:
        return [Finding("inbox", "empty")]
    todo = ["`speedworth run` takes in what waits."] if n else []
    todo += ["Rename or remove what is left alone."] if alone else []
    return [Finding("inbox", "; ".join(told), "look", " ".join(todo))]


def _audits(con: duckdb.DuckDBPyConnection) -> list[Finding]:
    findings = []
    for audit in audits():
        n = frame(con, audit.sql).height
        offending = Finding(
            audit.name,
            f"{n} offending rows",
            "broken",
            "Make it anew with `speedworth rebuild`, or bring back a backup.",
            WarehouseCorruptError.exit_code,
        )
        findings.append(offending if n else Finding(audit.name, "no offending row"))
    return findings


def _time_zone(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Finding]:
    stored = scalar(con, "select time_zone from academy")
    wanted = workspace.academy().time_zone
    if stored is not None and stored != wanted:
        todo = "The next run counts all days anew; days, and flags that rest on them, may change."
        return [Finding("time zone", f"changed from {stored} to {wanted}", "look", todo)]
    return [Finding("time zone", f"days are counted in {wanted}")]


def _groups(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Finding]:
    """Groups and courses that are named somewhere, and that nobody is in or academy.toml does not know."""
    members = {name for (name,) in con.execute("select group_name from player_group").fetchall()}
    planned = {name for (name,) in con.execute("select group_name from plan").fetchall() if name}
    limited = {name for groups in limited_groups(workspace) for name in groups}
    academy = workspace.academy()
    courses = {course.name for course in (*DEFAULT_COURSES, *academy.courses)}
    asked = con.execute("select course, player_id from player order by course, player_id").fetchall()
    nobody = {"plans": planned, "academy.toml": set(academy.group_day_without_row), "keys": limited}
    told = [f"{where}: nobody is in {', '.join(sorted(names - members))}" for where, names in nobody.items() if names - members]
    unknown = [f"{course} ({player})" for course, player in asked if course and course not in courses]
    told += [f"home courses that academy.toml does not know, so that its own counts: {', '.join(unknown)}"] if unknown else []
    if told:
        return [Finding("groups", "; ".join(told), "look", "Spell groups as the players file does, and courses as academy.toml.")]
    return [Finding("groups", f"{len(members)} with players" if members else "none")]


def _ledger(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Finding]:
    counts = dict(con.execute("select status, n_files from file_status order by status").fetchall())
    n = 0 if counts else n_originals(workspace.archive)
    if n:
        says = f"none in the warehouse, and archive/ holds {n} original{'s' if n > 1 else ''}"
        todo = "Make the warehouse anew with `speedworth rebuild`, or bring back a copy with `speedworth restore BACKUP`."
        return [Finding("files", says, "broken", todo, WarehouseError.exit_code)]
    says = ", ".join(f"{n} {status}" for status, n in counts.items()) or "no file yet"
    if counts.get("held"):
        return [Finding("files", says, "look", "Held files wait in quarantine/, each with a list of problems.")]
    return [Finding("files", says)]


def _warehouse(workspace: Workspace) -> list[Finding]:
    if not workspace.warehouse.exists():
        return [Finding("warehouse", "not there yet", "look", "It is made by `speedworth run`.")]
    try:
        with open_warehouse(workspace.warehouse, read_only=True) as con:
            said = f"{workspace.warehouse.stat().st_size / 1e6:.0f} MB, {len(migrations())} migrations"
            return [
                Finding("warehouse", said),
                *_time_zone(workspace, con),
                *_groups(workspace, con),
                *block_findings(con),
                *_ledger(workspace, con),
                *mapping_findings(workspace, con),
                *_audits(con),
                *standing_findings(workspace, con),
            ]
    except WarehouseBusyError as fault:
        return [Finding("warehouse", fault.what, "look", fault.todo)]
    except SpeedworthError as fault:
        return [broken("warehouse", fault)]


EXAMINATIONS: tuple[Callable[[Workspace], list[Finding]], ...] = (
    _versions,
    _settings,
    _folders,
    _disk,
    _lock,
    _waiting,
    copy_findings,
    _warehouse,
    original_findings,
    page_findings,
    link_findings,
    backup_findings,
    sharing_findings,
)


def examine(workspace: Workspace) -> tuple[Finding, ...]:
    """Every finding about the workspace, in a fixed order."""
    return tuple(finding for examination in EXAMINATIONS for finding in examination(workspace))
