"""What doctor says of sharing with a federation."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.stages.finding import Finding
from pipelines.stages.share import missing_paths
from pipelines.stages.share_ledger import read_ledger
from pipelines.stages.shared_folder import open_shared
from schemas.errors import SettingsError, WorkspaceError

if TYPE_CHECKING:
    from pipelines.workspace import Workspace


def sharing_findings(workspace: Workspace) -> list[Finding]:
    """Whether the academy shares, what was shared last, and whether its folder has all of it."""
    try:
        academy = workspace.academy()
    except SettingsError:
        return []  # said of the settings
    if not academy.share.is_on:
        return [Finding("sharing", "nothing is shared with a federation")]
    try:
        ledger = read_ledger(workspace.shared)
    except WorkspaceError as fault:
        return [Finding("sharing", fault.what, "broken", fault.todo, fault.exit_code)]
    standing = [one for one in ledger.cohorts if not one.ended]
    n = sum(len(one.members) for one in standing)
    last = f"the last {max(ledger.months):%Y-%m}" if ledger.months else "none yet"
    says = f"{len(ledger.months)} months, {last}; {n} persons in {len(standing)} cohorts"
    try:
        there = frozenset(open_shared(academy.share.folder, workspace.root).names(f"academy={academy.share.academy}"))
    except WorkspaceError as fault:
        return [Finding("sharing", f"{says}. {fault.what}", "look", fault.todo)]
    waiting = missing_paths(ledger, academy, there)
    if waiting:
        return [Finding("sharing", f"{says}; {len(waiting)} files wait", "look", "The next `speedworth run` writes them.")]
    return [Finding("sharing", says)]
