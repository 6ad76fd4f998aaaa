"""Taking a file back: its rows leave, what it had replaced comes back in the run that follows, its original stays."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.stages.audit_log import note
from pipelines.stages.intake.again import find_delivery
from pipelines.stages.intake.taking_back import take_back
from schemas.results import Withdrawal
from warehouse.connection import open_warehouse, transaction

if TYPE_CHECKING:
    from datetime import datetime

    from pipelines.workspace import Workspace


def withdraw_file(workspace: Workspace, named: str, now: datetime) -> Withdrawal:
    """Take the rows of one loaded file out. The workspace is held for writing.

    Raises
    ------
    NotFoundError
        When no loaded file, or more than one, is meant.
    IntakeError
        When other files rest on it in a way that could not be undone.
    """
    with open_warehouse(workspace.warehouse) as con, transaction(con):
        file = find_delivery(con, named, ("loaded", "superseded"))
        n_rows = take_back(con, file)
    note(workspace, now, "withdraw", rows=n_rows)
    return Withdrawal(file["name"], n_rows, file["kept_as"])
