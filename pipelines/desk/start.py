"""The start page of each role."""

from __future__ import annotations

from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from pipelines.desk.absences import open_absences
from pipelines.desk.decide import waiting_findings
from pipelines.desk.drop import waiting_names
from pipelines.desk.keys import LINKED
from pipelines.desk.player_start import player_start
from pipelines.desk.rooms import room_start

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.visit import Visit


def start(visit: Visit) -> Response:
    """What this person can do here."""
    role = visit.me.role
    if role in LINKED:
        return player_start(visit)
    return visit.page(
        "staff",
        visit.words(f"desk.role.{role}"),
        room=room_start(visit),
        n_findings=len(waiting_findings(visit)) if role != "data" else 0,
        n_absences=len(open_absences(visit)) if role == "physio" else 0,
        n_waiting=len(waiting_names(visit)) if role == "data" else 0,
        written_at=visit.view.written_at.astimezone(ZoneInfo(visit.desk.academy.time_zone))
        if visit.view.rows["players"]
        else None,
    )
