"""The physio's list of absences without an end; the day that ends one goes into the inbox as an absences file."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from pipelines.desk.handing import Paper, new_form_id
from pipelines.desk.visit import day_in
from schemas.files import KINDS

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.visit import Visit

_WAITED_DAYS = 10


def _named(row: dict[str, Any]) -> str:
    """What tells an absence from every other."""
    return f"{row['player_id']} {row['began_on']} {row['kind']}"


def _waiting(visit: Visit) -> frozenset[str]:
    """Absences whose end this person has handed in since the last intake."""
    since = visit.view.written_at
    return frozenset(item.about for item in visit.lately(_WAITED_DAYS) if item.kind == "absences" and item.at > since)


def open_absences(visit: Visit) -> list[dict[str, Any]]:
    """Absences without an end whose end does not wait for the next intake, the longest first."""
    waiting = _waiting(visit)
    return [row for row in visit.view.rows["absences"] if _named(row) not in waiting]


def absences(visit: Visit) -> Response:
    """Who is away, since when, and what was done since."""
    rows = [
        {
            **row,
            "name": _named(row),
            "form_id": new_form_id(),
            "first": date.fromisoformat(row["began_on"]),
            "last": date.fromisoformat(row["last_session_on"]) if row["last_session_on"] else None,
        }
        for row in open_absences(visit)
    ]
    done = visit.request.query_params.get("done", "") == "ended"
    return visit.page("absences", visit.words("desk.absences.title"), rows=rows, done=done, n_waiting=len(_waiting(visit)))


def end(visit: Visit) -> Response:
    """Hand in the last day of an absence."""
    asked, last = visit.field("absence"), day_in(visit.field("ended_on"))
    row = next((row for row in open_absences(visit) if _named(row) == asked), None)
    if row is None:
        return visit.refused(404, "desk.absences.unknown")
    first, today = date.fromisoformat(row["began_on"]), visit.desk.today()
    if last is None or not first <= last <= today:
        return visit.refused(422, "desk.absences.day", first=visit.words.day(first), last=visit.words.day(today))
    ended = {name: row.get(name) for name in KINDS["absences"].names} | {"began_on": first, "ended_on": last}
    return visit.hand_in(Paper("absences", [ended], asked), "/absences?done=ended")
