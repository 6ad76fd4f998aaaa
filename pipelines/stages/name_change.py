"""Naming a day since which a player does something otherwise: a changes file in the inbox, taken in like every other original."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from pipelines.stages.intake.disk import write_durably
from pipelines.stages.intake.lists import csv_text
from pipelines.stages.intake.own_rows import require_loadable
from schemas.errors import UsageError
from schemas.files import KINDS
from warehouse.connection import open_warehouse
from warehouse.persons import require_player

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from pipelines.workspace import Workspace

CHANGES: tuple[str, ...] = KINDS["changes"].column("kind").field.allowed


def name_change(workspace: Workspace, player_id: str, changed_on: date, kind: str, today: date) -> Path:
    """Write the day into the inbox; a later file about the same day takes its place, and a withdrawn one is forgotten.

    Parameters
    ----------
    workspace : Workspace
    player_id : str
    changed_on : datetime.date
        First day on which something is otherwise.
    kind : str
        One of :data:`CHANGES`.
    today : datetime.date
        The academy's local day.

    Raises
    ------
    UsageError
        When there is no such kind of change, the day lies ahead, or no file could hold it.
    NotFoundError
        When there is no such player.
    """
    if kind not in CHANGES:
        raise UsageError(f"{kind!r} is no kind of change.", f"Use one of: {', '.join(CHANGES)}.")
    if changed_on > today:
        raise UsageError(f"{changed_on} lies ahead.", f"Give a day up to {today}: what has not begun cannot be compared.")
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        require_player(con, player_id)
    row = {"player_id": player_id, "changed_on": changed_on, "kind": kind}
    require_loadable("changes", row)
    path = workspace.inbox / f"changes_{secrets.token_hex(8)}.csv"  # says nothing of the player
    write_durably(path, csv_text(KINDS["changes"].names, [[row[name] for name in KINDS["changes"].names]]))
    return path
