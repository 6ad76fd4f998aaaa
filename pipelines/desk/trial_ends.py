"""Ending a trial at the desk, and taking it up again: a trials file in the inbox, as for everything else."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from pipelines.desk.handing import Paper
from pipelines.desk.visit import day_in
from pipelines.stages.trial_end import RULES, ended_row, resumed_row
from schemas.errors import UsageError
from schemas.files import KINDS

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.visit import Visit

_WAITED_DAYS = 10


def waiting_ends(visit: Visit) -> frozenset[str]:
    """Trials whose end, or whose going on, this person has handed in since the last intake."""
    since = visit.view.written_at
    mine = visit.lately(_WAITED_DAYS)
    return frozenset(item.about.removesuffix(_ABOUT) for item in mine if item.about.endswith(_ABOUT) and item.at > since)


_ABOUT = " end"


def _declared(visit: Visit) -> dict[str, Any] | None:
    """The declaration of the trial that the address names, if this visitor may see it."""
    asked = visit.request.path_params["trial_id"]
    row = next((row for row in visit.view.rows["trials"] if row["trial_id"] == asked), None)
    if row is None:
        return None
    days = {name: date.fromisoformat(row[name]) if row[name] else None for name in ("began_on", "ended_on")}
    return {name: row[name] for name in KINDS["trials"].names} | days


def end(visit: Visit) -> Response:
    """Hand in the trial's end."""
    row, last = _declared(visit), day_in(visit.field("ended_on"))
    if row is None:
        return visit.refused(404, "desk.sheets.unknown")
    if last is None:
        return visit.refused(422, "desk.sheets.end_day")
    try:
        ended = ended_row(row, last, visit.field("rule"), visit.desk.today())
    except UsageError:
        return visit.refused(422, "desk.sheets.end_day")
    return visit.hand_in(Paper("trials", [ended], row["trial_id"] + _ABOUT), "/sheets?done=ended")


def resume(visit: Visit) -> Response:
    """Hand in that the trial goes on."""
    row = _declared(visit)
    if row is None:
        return visit.refused(404, "desk.sheets.unknown")
    try:
        going_on = resumed_row(row)
    except UsageError:
        return visit.refused(422, "desk.sheets.not_ended")
    return visit.hand_in(Paper("trials", [going_on], row["trial_id"] + _ABOUT), "/sheets?done=resumed")


__all__ = ["RULES", "end", "resume", "waiting_ends"]
