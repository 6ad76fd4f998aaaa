"""Pages as files to send: one, or all of one reader, as the last night left them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.single_page import single_page, single_pages
from schemas.errors import NotFoundError, WorkspaceError
from warehouse.connection import open_warehouse
from warehouse.night import stored_night

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace
    from warehouse.marts import Audience


def page_to_send(workspace: Workspace, audience: Audience, path: str, player_id: str = "") -> str:
    """One page as the last night left it, as HTML that needs nothing beside it.

    Raises
    ------
    NotFoundError
        When there is no such page or player, or no night has been run.
    """
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        night = stored_night(con)
        if night is None:
            raise NotFoundError("There are no pages yet.", "Run `speedworth run` first.")
        return single_page(con, workspace.academy(), audience=audience, path=path, as_of=night[1], player_id=player_id)


def pages_to_send(workspace: Workspace, audience: Audience, folder: Path) -> int:
    """Every page of one audience as the last night left it, a file each; returns how many.

    Raises
    ------
    NotFoundError
        When no night has been run.
    WorkspaceError
        When the folder holds something already, or cannot be written.
    """
    try:
        if folder.exists() and any(folder.iterdir()):
            raise WorkspaceError(f"{folder} holds something already.", "Choose an empty folder.")
        with open_warehouse(workspace.warehouse, read_only=True) as con:
            night = stored_night(con)
            if night is None:
                raise NotFoundError("There are no pages yet.", "Run `speedworth run` first.")
            n = 0
            for path, text in single_pages(con, workspace.academy(), audience=audience, as_of=night[1]):
                file = folder / path
                file.parent.mkdir(parents=True, exist_ok=True)
                file.write_text(text, encoding="utf-8")
                n += 1
    except OSError as fault:
        raise WorkspaceError(f"{folder} cannot be written: {fault.strerror}.", "Choose another folder.") from fault
    return n
