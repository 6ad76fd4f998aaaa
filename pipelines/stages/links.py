"""Renewing the links of the players' own pages, when one was seen by somebody whom it is not for."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from pipelines.stages.audit_log import note
from pipelines.stages.intake.disk import write_durably
from reports.tokens import renewed_key
from warehouse.connection import open_warehouse
from warehouse.persons import require_player

if TYPE_CHECKING:
    from datetime import datetime

    from pipelines.workspace import Workspace


def renew_links(workspace: Workspace, player_id: str, now: datetime) -> None:
    """Change the secret of the links so that this player's, or every player's when none is named, is another from now on.

    The workspace is held for writing. The pages move with the next night.

    Raises
    ------
    NotFoundError
        When there is no such player.
    """
    if player_id:
        with open_warehouse(workspace.warehouse, read_only=True) as con:
            require_player(con, player_id)
        write_durably(workspace.key_file, renewed_key(workspace.site_key(), player_id))
    else:
        write_durably(workspace.key_file, secrets.token_bytes(32))
    note(workspace, now, "links renewed", players=1) if player_id else note(workspace, now, "all links renewed")
