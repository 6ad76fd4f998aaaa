"""Taking a file back: its rows leave, what it had replaced comes back in the run that follows, its original stays."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.stages.audit_log import note
from pipelines.stages.intake.again import find_delivery
from schemas.errors import IntakeError
from schemas.files import KINDS
from schemas.results import Withdrawal
from warehouse.connection import open_warehouse, transaction
from warehouse.deliveries import has_been_taken_over, players_named_elsewhere, redacted_deliveries_replaced_by, withdraw_delivery
from warehouse.night import forget_night

if TYPE_CHECKING:
    from datetime import datetime

    import duckdb

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
        _refuse_what_cannot_be_undone(con, file)
        n_rows = withdraw_delivery(con, KINDS[file["kind"]], file["file_id"])
        forget_night(con)
    note(workspace, now, "withdraw", rows=n_rows)
    return Withdrawal(file["name"], n_rows, file["kept_as"])


def _refuse_what_cannot_be_undone(con: duckdb.DuckDBPyConnection, file: dict[str, str]) -> None:
    resting = players_named_elsewhere(con, file["file_id"]) if file["kind"] == "players" else []
    if resting:
        raise IntakeError(
            f"{file['name']} cannot be taken back: other files name its players {', '.join(resting[:5])}.",
            "Drop a corrected players file instead: a newer one replaces it.",
        )
    if has_been_taken_over(con, KINDS[file["kind"]], file["file_id"]):
        raise IntakeError(
            f"{file['name']} cannot be taken back: a newer file has taken over what it does not say itself.",
            "Take the newer file back first, or drop a corrected one.",
        )
    redacted = redacted_deliveries_replaced_by(con, file["file_id"])
    if redacted:
        raise IntakeError(
            f"{file['name']} cannot be taken back: of {redacted[0]}, which it replaced in part, not all rows were kept.",
            "Drop a corrected file instead: a newer one replaces it.",
        )
