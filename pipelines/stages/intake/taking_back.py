"""Taking a file back: what cannot be undone, and wishes for it that were handed in as files of their own.

Such a wish is fulfilled before anything is read, so that what the file had replaced comes back in the same intake. One that
cannot be fulfilled is held like any other file, with the reason.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.handed import HandedIn, is_handed_in
from pipelines.stages.intake.table import Unread
from schemas.errors import IntakeError
from schemas.files import KINDS
from warehouse.connection import transaction
from warehouse.deliveries import (
    deliveries,
    has_been_taken_over,
    players_named_elsewhere,
    redacted_deliveries_replaced_by,
    withdraw_delivery,
)
from warehouse.night import forget_night

if TYPE_CHECKING:
    from typing import Any

    import duckdb

    from pipelines.stages.intake.discover import Arrival

WORD = "withdrawal"
_FILE_ID = re.compile(r"[0-9a-f]{64}")


@dataclass
class TakenBack(HandedIn):
    """What became of the wishes.

    Attributes
    ----------
    n_rows : list of int
        Rows of each file that was taken back.
    """

    n_rows: list[int] = field(default_factory=list)


def is_handed_withdrawal(name: str) -> bool:
    """Whether a file of that name below the inbox is a wish to take a file back."""
    return is_handed_in(name, WORD)


def withdrawal_text(file_id: str) -> str:
    """The wish as it lies in the inbox."""
    return json.dumps({"file_id": file_id}) + "\n"


def take_back(con: duckdb.DuckDBPyConnection, file: dict[str, Any]) -> int:
    """Take the rows of a loaded file out; returns how many. Call it within a transaction.

    Raises
    ------
    IntakeError
        When other files rest on it in a way that could not be undone.
    """
    _refuse_what_cannot_be_undone(con, file)
    n_rows = withdraw_delivery(con, KINDS[file["kind"]], file["file_id"])
    forget_night(con)
    return n_rows


def _refuse_what_cannot_be_undone(con: duckdb.DuckDBPyConnection, file: dict[str, Any]) -> None:
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


def take_back_handed(con: duckdb.DuckDBPyConnection, waiting: list[Arrival]) -> TakenBack:
    """Fulfil each wish that waits, or say why not."""
    done = TakenBack()
    for delivery, data in done.read(waiting):
        _fulfil(con, delivery, _file_id(data), done)
    return done


def _file_id(data: bytes) -> str:
    """The file that a wish names; empty when it names none."""
    try:
        told = json.loads(data)
    except ValueError:
        return ""
    file_id = told.get("file_id") if isinstance(told, dict) else None
    return file_id if isinstance(file_id, str) and _FILE_ID.fullmatch(file_id) else ""


def _fulfil(con: duckdb.DuckDBPyConnection, delivery: Arrival, file_id: str, done: TakenBack) -> None:
    rows = deliveries(con).filter(pl.col("file_id") == file_id, pl.col("status") != "held")
    file = rows.row(0, named=True) if rows.height else None
    if file is None:
        done.refused.append((delivery, Unread("cannot_be_undone", "no file that was taken in has this id")))
        return
    if file["status"] == "withdrawn":  # it was taken back before the wish could be taken away
        done.settled.append(delivery)
        return
    try:
        with transaction(con):
            n_rows = take_back(con, file)
    except IntakeError as fault:
        done.refused.append((delivery, Unread("cannot_be_undone", fault.what, hint=fault.todo)))
        return
    done.n_rows.append(n_rows)
    done.settled.append(delivery)
    done.fulfilled(delivery, WORD, f"{file['name']} was taken back")
