"""A player's start: what is due today, consent, a day off, and the own pages."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from pipelines.desk.handing import Paper
from pipelines.desk.rooms import room_start
from pipelines.desk.view import week_ended

if TYPE_CHECKING:
    from datetime import date

    from starlette.responses import Response

    from pipelines.desk.visit import Visit

DONE = frozenset({"checkin", "effort", "problems", "rest", "score", "consent"})


@dataclass(frozen=True)
class Task:
    """Something that a player may hand in now."""

    path: str
    title: str
    says: str
    is_done: bool


def player_of(visit: Visit) -> dict[str, Any] | None:
    """The player whose link was opened."""
    return visit.view.player(visit.me.subject)


def may_be_minor(visit: Visit, player: dict[str, Any]) -> bool:
    """Whether the guardian has to agree; where the year of birth is unknown, as well."""
    year = player["birth_year"]
    return year is None or visit.desk.academy.access.may_be_minor(year, visit.desk.today().year)


def has_agreed(visit: Visit, player: dict[str, Any]) -> bool:
    """Whether answers about the body may be asked for: as handed in last, else as the warehouse has it."""
    for item in visit.lately(30):
        if item.kind == "players" and item.at > visit.view.written_at:
            return item.about == "agreed"
    return bool(player["health_consent"])


def tasks(visit: Visit, player: dict[str, Any]) -> list[Task]:
    """What may be handed in, what is due first."""
    words, view, today, player_id = visit.words, visit.view, visit.desk.today(), player["player_id"]
    week = week_ended(today)
    waiting = [row for row in view.without_effort(player_id) if not visit.has_handed_in("sessions", row["session_id"])]
    answered = view.has_answered(player_id, today) or visit.has_handed_in("checkins", today.isoformat())
    formed = view.has_form(player_id, week) or visit.has_handed_in("problems", week.isoformat())
    found = [Task("/checkin", words("desk.checkin.title"), words("desk.checkin.says"), answered)]
    if waiting:
        found.append(Task("/effort", words("desk.effort.title"), words.count("desk.effort.waiting", len(waiting)), is_done=False))
    found += [
        Task("/problems", words("desk.problems.title"), words("desk.problems.says", day=words.short_day(week)), formed),
        Task("/score", words("desk.score.title"), words("desk.score.says"), is_done=False),
    ]
    return sorted(found, key=lambda task: task.is_done)


def player_start(visit: Visit) -> Response:
    """The start page of a player or guardian."""
    player = player_of(visit)
    if player is None:
        return visit.refused(404, "desk.player_unknown")
    day = visit.desk.today()
    rested = visit.view.has_rested(player["player_id"], day) or visit.has_handed_in("sessions", rest_id(player["player_id"], day))
    done = visit.request.query_params.get("done", "")
    return visit.page(
        "player",
        player["alias"],
        tasks=tasks(visit, player),
        rested=rested,
        agreed=has_agreed(visit, player),
        done=done if done in DONE else "",
        room=room_start(visit),
    )


def rest_id(player_id: str, day: date) -> str:
    """Id of the row that says that a player took that day off."""
    short = player_id if len(player_id) <= 40 else hashlib.sha256(player_id.encode()).hexdigest()[:40]
    return f"rest-{short}-{day:%Y%m%d}"


def posted_day(visit: Visit, days_back: int) -> date | None:
    """The day that a form was opened on, when it is not long ago: kept answers are sent later.

    A phone may be a zone ahead of the academy: its tomorrow is today.
    """
    today = visit.desk.today()
    try:
        day = datetime.strptime(visit.field("day"), "%Y-%m-%d").date()  # noqa: DTZ007 - a local day
    except ValueError:
        return None
    day = min(day, today) if day <= today + timedelta(days=1) else day
    return day if today - timedelta(days=days_back) <= day <= today else None


def rest(visit: Visit) -> Response:
    """Hand in a day of rest."""
    player, day = player_of(visit), posted_day(visit, 7)
    if player is None or day is None:
        return visit.refused(422, "desk.day_unknown")
    noon = datetime.combine(day, time(12), ZoneInfo(visit.desk.academy.time_zone))
    session_id = rest_id(player["player_id"], day)
    row = {"session_id": session_id, "player_id": player["player_id"], "started_at": noon, "kind": "rest", "effort": 0}
    return visit.hand_in(Paper("sessions", [row], session_id), "rest")


def consent_page(visit: Visit) -> Response:
    """What is asked, in plain words."""
    player = player_of(visit)
    if player is None:
        return visit.refused(404, "desk.player_unknown")
    by_guardian = may_be_minor(visit, player)
    return visit.page(
        "consent",
        visit.words("desk.consent.title"),
        agreed=has_agreed(visit, player),
        may_agree=visit.me.role == "guardian" or not by_guardian,
        lines=visit.words.lines("desk.consent.lines"),
    )


def consent(visit: Visit) -> Response:
    """Hand in that the player agrees, or no longer does; a minor's guardian agrees, and either may end it."""
    player, agrees = player_of(visit), visit.field("agrees")
    if player is None or agrees not in {"yes", "no"}:
        return visit.refused(422, "desk.form_unknown")
    if agrees == "yes" and may_be_minor(visit, player) and visit.me.role != "guardian":
        return visit.refused(403, "desk.consent.guardian")
    row = {"player_id": player["player_id"], "alias": player["alias"], "health_consent": agrees == "yes"}
    return visit.hand_in(Paper("players", [row], "agreed" if agrees == "yes" else "ended"), "consent")
