"""Pages as files to send: one, or all of one reader, as the last night left them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.workspace import require_beside
from reports.single_page import single_page, single_pages
from schemas.errors import NotFoundError, WorkspaceError
from warehouse.connection import open_warehouse
from warehouse.night import stored_night

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    import duckdb

    from pipelines.workspace import Workspace
    from warehouse.marts import Audience


def page_to_send(workspace: Workspace, audience: Audience, path: str, player_id: str = "", group: str = "") -> str:
    """One page as the last night left it, as HTML that needs nothing beside it.

    Raises
    ------
    NotFoundError
        When there is no such page or player, or no night has been run.
    """
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        as_of = _last_day(con)
        return single_page(con, workspace.academy(), audience=audience, path=path, as_of=as_of, player_id=player_id, group=group)


def _last_day(con: duckdb.DuckDBPyConnection) -> date:
    night = stored_night(con)
    if night is None:
        raise NotFoundError("There are no pages yet.", "Run `speedworth run` first.")
    return night[1]


def pages_to_send(workspace: Workspace, audience: Audience, folder: Path, group: str = "") -> int:
    """Every page of one audience, or of the members of a group, as the last night left it, a file each; returns how many.

    Raises
    ------
    NotFoundError
        When no night has been run, or nobody is in the group.
    WorkspaceError
        When the folder holds something already, or cannot be written.
    """
    require_beside(workspace, folder)
    try:
        if folder.exists() and any(folder.iterdir()):
            raise WorkspaceError(f"{folder} holds something already.", "Choose an empty folder.")
        with open_warehouse(workspace.warehouse, read_only=True) as con:
            n = 0
            for path, text in single_pages(con, workspace.academy(), audience=audience, as_of=_last_day(con), group=group):
                file = folder / path
                file.parent.mkdir(parents=True, exist_ok=True)
                file.write_text(text, encoding="utf-8")
                n += 1
    except OSError as fault:
        raise WorkspaceError(f"{folder} cannot be written: {fault.strerror}.", "Choose another folder.") from fault
    return n
