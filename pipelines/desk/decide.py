"""Findings in order of concern, and what is decided about each: the physio's round, and the coach's on ball and load."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from pipelines.desk.handing import Paper, new_form_id
from reports.findings.flags import capital, flag_evidence, flag_sentence
from reports.findings.load_body import standing_word
from reports.findings.order import GOOD, is_waiting, mark_of, reading_order
from schemas.files import KINDS

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.visit import Visit

DECISIONS = KINDS["decisions"].column("decision").field.allowed
SPANS = (7, 14, 28)
"""Days for which a decision may be chosen to hold."""


def _state(visit: Visit, row: dict[str, Any]) -> str:
    """Where a finding stands, in words."""
    words = visit.words
    if visit.has_handed_in("decisions", _about(row, visit.desk.today())):
        return words("desk.findings.just_decided")
    return capital(standing_word(row, words)) if row["decision"] else words("desk.findings.undecided")


def _about(row: dict[str, Any], day: date) -> str:
    return f"{row['flag_id']} {day.isoformat()}"


def waiting_findings(visit: Visit) -> list[dict[str, Any]]:
    """Open findings about which nothing was decided yet; good news waits for nobody."""
    today = visit.desk.today()
    return [
        row
        for row in visit.view.flags(visit.me.role)
        if row["kind"] not in GOOD and is_waiting(row) and not visit.has_handed_in("decisions", _about(row, today))
    ]


def _shown(visit: Visit, row: dict[str, Any]) -> dict[str, Any]:
    words, units = visit.words, visit.desk.academy.units
    return {
        "flag_id": row["flag_id"],
        "form_id": new_form_id(),
        "mark": mark_of(row),
        "alias": row["alias"] or row["player_id"],
        "says": flag_sentence(row, words, units),
        "evidence": flag_evidence(row, words, units),
        "state": _state(visit, row),
        "href": f"/room/players/{row['player_id']}.html#flag-{row['flag_id']}",
    }


def findings(visit: Visit) -> Response:
    """The list: what waits for a decision first, each with its own small form."""
    waiting = {row["flag_id"] for row in waiting_findings(visit)}
    group, here = _chosen_group(visit, visit.request.query_params.get("group", ""))
    flags = [row for row in visit.view.flags(visit.me.role) if here is None or row["player_id"] in here]
    ordered = reading_order(flags, body_first=visit.me.role == "physio")
    rows = sorted(ordered, key=lambda row: row["flag_id"] not in waiting)
    until = [(days, visit.desk.today() + timedelta(days=days)) for days in SPANS]
    return visit.page(
        "findings",
        visit.words("desk.findings.title"),
        rows=[_shown(visit, row) for row in rows],
        n_waiting=len([row for row in rows if row["flag_id"] in waiting]),
        groups=visit.view.group_names(),
        group=group,
        decisions=DECISIONS,
        until=until,
        done=visit.request.query_params.get("done", "") == "decided",
    )


def _chosen_group(visit: Visit, asked: str) -> tuple[str, set[str] | None]:
    """The group whose players alone are listed, with their ids; nobody is left out when no known one is asked for."""
    return (asked, visit.view.members(asked)) if asked in visit.view.group_names() else ("", None)


def decide(visit: Visit) -> Response:
    """Hand in one decision."""
    role, today = visit.me.role, visit.desk.today()
    row = next((row for row in visit.view.flags(role) if row["flag_id"] == visit.field("flag_id")), None)
    if row is None:
        return visit.refused(404, "desk.findings.unknown")
    if visit.field("decision") not in DECISIONS:
        return visit.refused(422, "desk.findings.choose")
    paper = {
        "flag_id": row["flag_id"],
        "decided_on": today,
        "role": role,
        "decision": visit.field("decision"),
        "until": visit.field("until") or None,
        "note": visit.field("note") or None,
        "player_id": row["player_id"],
        "flag_kind": row["kind"],
        "region": row["region"] or None,
        "raised_on": row["raised_on"],
    }
    group = _chosen_group(visit, visit.field("group"))[0]
    back = f"/findings?{urlencode({'done': 'decided', **({'group': group} if group else {})})}"
    return visit.hand_in(Paper("decisions", [paper], _about(row, today)), back)
