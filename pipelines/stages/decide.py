"""Decisions: writing one down so that it is never lost, and saying each night where the decided flags stand.

A decision is a row of a decisions file. The command writes such a file into the inbox: it is taken in, archived by its content
like every other original, and read again when a warehouse is built anew. Beside the id it holds what the flag was about, so
that the decision finds its flag again when corrected data have given it another id.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from pipelines.measures.device.cause import CAUSES
from pipelines.measures.flags.decisions import decision_states
from pipelines.stages.intake.lists import csv_text
from pipelines.stages.intake.own_rows import require_loadable
from schemas.errors import UsageError, WorkspaceError
from schemas.files import KINDS
from warehouse.connection import frame, open_warehouse, transaction
from warehouse.decisions import decision_rows, player_decisions, remember_subjects, replace_decision_states, subject_rows
from warehouse.flags import flag_rows, visible_flag

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path
    from typing import Any

    import duckdb
    import polars as pl

    from pipelines.workspace import Workspace
    from schemas.academy import Academy

Role = Literal["coach", "physio"]

_NIGHTS = "select player_id, kind, region, on_date, strength from standing_candidate"


@dataclass(frozen=True)
class Decision:
    """What somebody decided about a flag.

    Attributes
    ----------
    flag_id : str
    role : {"coach", "physio"}
    decision : str
        watch, ease, rest, refer or set aside; of a suspected device: device, players or unclear.
    until : datetime.date or None
        Last day for which it holds; None: as long as the flag is open.
    note : str
    """

    flag_id: str
    role: Role
    decision: str
    until: date | None = None
    note: str = ""


def record_decision(workspace: Workspace, decided_on: date, decision: Decision) -> Path:
    """Write a decision into the inbox as a decisions file; the next run takes it in.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    UsageError
        When the decision is no word for such a flag, ends before it begins, or could not be held by a file.
    NotFoundError
        When there is no such flag, or none that this role may see.
    WarehouseError, WorkspaceError
    """
    if decision.decision not in KINDS["decisions"].column("decision").field.allowed:
        raise UsageError(f"{decision.decision!r} is no decision.", f"Use one of: {_listed('')}.")
    if decision.until is not None and decision.until < decided_on:
        raise UsageError(f"The decision would end on {decision.until}, before it begins on {decided_on}.", "Give a later day.")
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        flag = visible_flag(con, decision.flag_id, "coach" if decision.role == "coach" else "")
    if decision.decision not in words_for(flag["kind"]):
        raise UsageError(f"{decision.decision!r} is no decision about {flag['kind']}.", f"Use one of: {_listed(flag['kind'])}.")
    row = _row(decided_on, decision, flag)
    require_loadable("decisions", row)
    path = workspace.inbox / f"decisions_{secrets.token_hex(8)}.csv"  # says nothing of flag, player or role
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(csv_text(KINDS["decisions"].names, [[row[name] for name in KINDS["decisions"].names]]))
        part.replace(path)
    except OSError as fault:
        raise WorkspaceError(
            f"{workspace.inbox} cannot be written: {fault.strerror}.", "Check the rights of the folder."
        ) from fault
    return path


def words_for(kind: str) -> tuple[str, ...]:
    """What can be decided about a kind of flag: of a suspected device, who moved."""
    allowed = KINDS["decisions"].column("decision").field.allowed
    return tuple(word for word in allowed if (word in CAUSES) == (kind == "device_shift"))


def _listed(kind: str) -> str:
    """The same as they are typed: one word each."""
    return ", ".join(word.replace(" ", "-") for word in words_for(kind))


def _row(decided_on: date, decision: Decision, flag: dict[str, Any]) -> dict[str, Any]:
    return {
        "flag_id": decision.flag_id,
        "decided_on": decided_on,
        "role": decision.role,
        "decision": decision.decision,
        "until": decision.until,
        "note": decision.note,
        "player_id": flag["player_id"],
        "flag_kind": flag["kind"],
        "region": flag["region"],
        "raised_on": flag["raised_on"],
    }


def decisions_of_player(workspace: Workspace, player_id: str, role: Role) -> pl.DataFrame:
    """History of decisions about a player, oldest first; a coach sees those about flags that a coach may see.

    Raises
    ------
    WarehouseError, NotFoundError
    """
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        rows = player_decisions(con, player_id)
    return rows if role == "physio" else rows.filter(rows["audience"] != "physio")


def measure_decisions(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write where each decided flag stands; call it after the flags."""
    with transaction(con):
        remember_subjects(con)
        states = decision_states(decision_rows(con), subject_rows(con), flag_rows(con), frame(con, _NIGHTS), as_of)
        replace_decision_states(con, states)
