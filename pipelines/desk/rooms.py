"""The pages of a room, served as they are to those whose room it is, and the desk's own few files."""

from __future__ import annotations

import mimetypes
import os
import re
import stat
from typing import TYPE_CHECKING

from starlette.responses import FileResponse, Response

from pipelines.desk.keys import LINKED
from reports.player_work import group_folder
from reports.tokens import player_token

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.desk.visit import Visit

SAFE = re.compile(r"([A-Za-z0-9][A-Za-z0-9_.-]*/)*[A-Za-z0-9][A-Za-z0-9_.-]*")
_TYPES = {".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8"}


def room_start(visit: Visit) -> str:
    """Path of the first page of the visitor's room; empty when no night has written one."""
    if visit.me.role in LINKED:
        path = f"{own_folder(visit)}/index.html"
        return f"/room/{path}" if (visit.desk.workspace.site / "players" / path).is_file() else ""
    return "/room/index.html" if (visit.desk.workspace.site / _staff_folder(visit) / "index.html").is_file() else ""


def _staff_folder(visit: Visit) -> str:
    """Folder of a staff member's room: a key that is limited to groups has one in which nobody else is."""
    groups = visit.me.groups
    return visit.me.role if groups is None else group_folder(groups)


def own_folder(visit: Visit) -> str:
    """Name of the folder of a player's own pages."""
    return player_token(visit.me.subject, visit.desk.workspace.site_key())


def _within(folder: Path, path: str) -> Path | None:
    """The regular file at ``path`` below ``folder``, when no step on the way is a link or leads out."""
    if not SAFE.fullmatch(path) or ".." in path:
        return None
    found = folder
    for step in path.split("/"):
        found = found / step
        try:
            mode = os.lstat(found).st_mode
        except OSError:
            return None
        if stat.S_ISLNK(mode):
            return None
    return found if stat.S_ISREG(mode) else None


def room(visit: Visit) -> Response:
    """A file of the visitor's room."""
    path, site = visit.request.path_params["path"], visit.desk.workspace.site
    if visit.me.role in LINKED:
        mine = path.startswith((f"{own_folder(visit)}/", "assets/"))
        found = _within(site / "players", path) if mine else None
    else:
        found = _within(site / _staff_folder(visit), path)
    if found is None:
        return visit.refused(404, "desk.nothing_here")
    kind = _TYPES.get(found.suffix) or mimetypes.guess_type(found.name)[0] or "application/octet-stream"
    shared = "/assets/" in f"/{path}"  # their names change with their content
    return FileResponse(found, media_type=kind, headers={"cache-control": "private, max-age=86400" if shared else "no-store"})


def asset(visit: Visit) -> Response:
    """One of the desk's own files: styles and the little script."""
    name = visit.request.path_params["name"]
    text = visit.desk.assets.get(name)
    if text is None:
        return Response("", 404)
    kind = _TYPES[f".{name.rpartition('.')[2]}"]
    return Response(text, media_type=kind, headers={"cache-control": "public, max-age=31536000, immutable"})


def worker(visit: Visit) -> Response:
    """The script that lets a player's forms open without a connection."""
    text = visit.desk.assets[visit.desk.names["worker"]]
    return Response(text, media_type=_TYPES[".js"], headers={"cache-control": "no-cache"})
