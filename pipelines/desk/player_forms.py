"""A player's minute: check-in, effort, weekly problem form, score card."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from pipelines.desk.handing import Paper
from pipelines.desk.player_start import has_agreed, player_of, posted_day
from pipelines.desk.view import week_ended
from pipelines.stages.desk_view import RATINGS
from schemas.regions import REGIONS

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.visit import Visit

NUMBER = re.compile(r"[0-9]{1,3}([.,][0-9]{1,2})?")
QUESTIONS = ("participation", "modified", "performance", "symptoms")
PLACES = 3
"""Regions that one weekly form has room for."""
ONE_TAP = ("fatigue", "soreness")


def number(visit: Visit, name: str) -> float | None:
    """A posted number; None when the field is empty.

    Raises
    ------
    ValueError
        When it is no number.
    """
    text = visit.field(name)
    if not text:
        return None
    if not NUMBER.fullmatch(text):
        raise ValueError(name)
    return float(text.replace(",", "."))


def whole(visit: Visit, name: str) -> int | None:
    """A posted whole number; None when the field is empty.

    Raises
    ------
    ValueError
        When it is none.
    """
    value = number(visit, name)
    if value is not None and value != int(value):
        raise ValueError(name)
    return None if value is None else int(value)


def _asked(visit: Visit, player_id: str) -> dict[str, Any]:
    asked, regions = visit.view.asked_regions(player_id), visit.view.felt_regions(player_id)
    ratings = visit.view.asked_ratings(player_id)
    return {
        "ratings": [item for item in ratings if item != "sleep_h"],
        "sleep": "sleep_h" in ratings,
        "regions": regions,
        "others": [region for region in REGIONS if region not in regions],
        "one_tap": [*ONE_TAP, *(f"stiff_{region}" for region in asked)],
    }


def place_names(visit: Visit, player: dict[str, Any]) -> dict[str, str]:
    """Region to its name; lead and trail also as left and right, where the player's side is known."""
    words, lead = visit.words, {"right": "left", "left": "right"}.get(player["handed"] or "", "")
    sides = {"lead": lead, "trail": {"left": "right", "right": "left"}.get(lead, "")}
    found = {}
    for region in REGIONS:
        name, side = words(f"region.{region}"), sides.get(region.partition("_")[0], "")
        found[region] = words(f"desk.side.{side}", place=name) if side else name
    return {**found, "other": words("region.other")}


def checkin_page(visit: Visit) -> Response:
    """The check-in; consent comes before the first question about the body."""
    player = player_of(visit)
    if player is None or not has_agreed(visit, player):
        return visit.go("/consent")
    return _checkin(visit, player, "")


def _checkin(visit: Visit, player: dict[str, Any], fault: str) -> Response:
    sides = {"right": ("lead", "trail"), "left": ("trail", "lead")}.get(player["handed"] or "")
    return visit.page(
        "checkin",
        visit.words("desk.checkin.title"),
        422 if fault else 200,
        fault=fault,
        left_side=sides[0] if sides else "",
        names=place_names(visit, player),
        **_asked(visit, player["player_id"]),
    )


def checkin(visit: Visit) -> Response:
    """Hand in a check-in."""
    player, day = player_of(visit), posted_day(visit, 7)
    if player is None or not has_agreed(visit, player):
        return visit.refused(403, "desk.consent.first")
    if day is None:
        return visit.refused(422, "desk.day_unknown")
    items = [*RATINGS, *(f"stiff_{region}" for region in REGIONS)]
    try:
        if visit.field("nothing"):
            answers: dict[str, Any] = dict.fromkeys(_asked(visit, player["player_id"])["one_tap"], 0)
        else:
            elsewhere = visit.view.asked_regions(player["player_id"]) if visit.field("elsewhere") else []
            answers = {item: value for item in items if (value := number(visit, item)) is not None}
            answers = {**dict.fromkeys((f"stiff_{region}" for region in elsewhere), 0), **answers}
    except ValueError as unread:
        field = visit.words.either(f"desk.ask.{unread}", visit.words("desk.a_number"))
        return _checkin(visit, player, visit.words("desk.number_unread", what=field))
    if not answers:
        return _checkin(visit, player, visit.words("desk.checkin.empty"))
    row = {"player_id": player["player_id"], "date": day, **answers, "note": visit.field("note") or None}
    return visit.hand_in(Paper("checkins", [row], day.isoformat()), "checkin")


def _open_sessions(visit: Visit) -> list[dict[str, Any]]:
    rows = visit.view.without_effort(visit.me.subject)
    return [row for row in rows if not visit.has_handed_in("sessions", row["session_id"])]


def _local(visit: Visit, text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(ZoneInfo(visit.desk.academy.time_zone))


def effort_page(visit: Visit) -> Response:
    """One question for the newest session that lacks an effort."""
    rows = _open_sessions(visit)
    if not rows:
        return visit.go("/")
    row = rows[0]
    return visit.page(
        "effort", visit.words("desk.effort.title"), row=row, begun=_local(visit, row["started_at"]), more=len(rows) - 1
    )


def effort(visit: Visit) -> Response:
    """Hand in the effort of one session: its row again, with the effort in it."""
    row = next((row for row in _open_sessions(visit) if row["session_id"] == visit.field("session_id")), None)
    try:
        value = number(visit, "effort")
    except ValueError:
        value = None
    if row is None:
        return visit.go("/")
    if value is None:
        return visit.refused(422, "desk.number_unknown")
    return visit.hand_in(Paper("sessions", [{**row, "effort": value}], row["session_id"]), "effort")


def problems_page(visit: Visit) -> Response:
    """The weekly problem form."""
    player = player_of(visit)
    if player is None or not has_agreed(visit, player):
        return visit.go("/consent")
    week = week_ended(visit.desk.today())
    return visit.page(
        "problems",
        visit.words("desk.problems.title"),
        week=week,
        monday=week - timedelta(days=6),
        questions=QUESTIONS,
        regions=(*REGIONS, "other"),
        names=place_names(visit, player),
        places=range(1, PLACES + 1),
    )


def problems(visit: Visit) -> Response:
    """Hand in the weekly problem form."""
    player, week = player_of(visit), posted_day(visit, 14)
    if player is None or not has_agreed(visit, player):
        return visit.refused(403, "desk.consent.first")
    if week is None or week != week_ended(week):
        return visit.refused(422, "desk.day_unknown")
    who = {"player_id": player["player_id"], "week_ending": week}
    if visit.field("nothing"):
        return visit.hand_in(Paper("problems", [{**who, "region": "other", "participation": 0}], week.isoformat()), "problems")
    try:
        rows = [{**who, **place} for number in range(1, PLACES + 1) if (place := _place(visit, number))]
    except ValueError:
        return visit.refused(422, "desk.number_unknown")
    if not rows:
        return visit.refused(422, "desk.problems.empty")
    return visit.hand_in(Paper("problems", rows, week.isoformat()), "problems")


def _place(visit: Visit, place: int) -> dict[str, Any]:
    region = visit.field(f"region_{place}")
    if not region:
        return {}
    answers = {name: whole(visit, f"{name}_{place}") for name in QUESTIONS}
    return {"region": region, **answers, "onset": visit.field(f"onset_{place}") or None}


DAYS_OF_CARD = 7
CARD = ("holes", "strokes", "tee_shots", "fairways", "penalties")


def score_page(visit: Visit) -> Response:
    """The score card."""
    today = visit.desk.today()
    courses = [course.name for course in visit.desk.academy.courses]
    title = visit.words("desk.score.title")
    return visit.page("score", title, first=today - timedelta(days=DAYS_OF_CARD), card=CARD, courses=courses)


def score(visit: Visit) -> Response:
    """Hand in a score card."""
    day = posted_day(visit, DAYS_OF_CARD)
    if day is None:
        last = visit.desk.today()
        first = last - timedelta(days=DAYS_OF_CARD)
        return visit.refused(422, "desk.score.day_far", first=visit.words.day(first), last=visit.words.day(last))
    try:
        card = {name: whole(visit, name) for name in (*CARD, "event_round")}
    except ValueError as unread:
        return visit.refused(422, "desk.number_unread", what=visit.words(f"desk.score.{unread}"))
    if card["strokes"] is None:
        return visit.refused(422, "desk.score.empty")
    where = {name: visit.field(name) or None for name in ("course", "event")}
    row = {"player_id": visit.me.subject, "played_on": day, **where, **card}
    return visit.hand_in(Paper("rounds", [row], day.isoformat()), "score")
