"""Personal links of players and guardians: shown as a link and as a code to scan, renewed when one was lost."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import segno

from pipelines.desk.keys import LINKED

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.keys import Role
    from pipelines.desk.visit import Visit


def links(visit: Visit) -> Response:
    """Who has a personal link, and when each was last heard of."""
    return visit.page("links", visit.words("desk.links.title"), players=visit.view.players(), heard=_heard(visit))


def _heard(visit: Visit) -> dict[str, dict[str, str]]:
    """Of each player the days of the last session and answer, as the reader's language writes days; empty where there is none."""

    def told(day: str | None) -> str:
        return visit.words.short_day(date.fromisoformat(day)) if day else ""

    kept = ("last_session_on", "last_answer_on")
    return {row["player_id"]: {name: told(row[name]) for name in kept} for row in visit.view.rows["heard"]}


def _asked(visit: Visit) -> tuple[dict[str, Any], Role] | None:
    player, role = visit.view.player(visit.request.path_params["player_id"]), visit.request.path_params["role"]
    return (player, role) if player is not None and role in LINKED else None


def link(visit: Visit) -> Response:
    """One personal link, to print."""
    asked = _asked(visit)
    if asked is None:
        return visit.refused(404, "desk.player_unknown")
    player, role = asked
    token = visit.desk.keys.personal_link(player["player_id"], role, visit.desk.clock())
    address = f"{visit.request.base_url}p/{token}"
    code = segno.make(address, error="m").svg_data_uri(scale=6, border=4)
    return visit.page("link", player["alias"], player=player, role=role, address=address, code=code)


def renew(visit: Visit) -> Response:
    """A new link in place of one that was lost."""
    asked = _asked(visit)
    if asked is None:
        return visit.refused(404, "desk.player_unknown")
    player, role = asked
    visit.desk.keys.renew_link(player["player_id"], role, visit.desk.clock())
    return visit.go(f"/links/{player['player_id']}/{role}")
