"""A coach's plans: one week of one player, or of everybody in a group."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from pipelines.desk.handing import Paper
from pipelines.desk.player_forms import whole

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.visit import Visit

NUMBERS = ("swings_full", "swings_speed", "minutes")
_WEEKS_BACK, _WEEKS_AHEAD = 4, 53


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _called(visit: Visit, row: dict[str, Any]) -> str:
    """Whose plan a row is."""
    if row["group_name"]:
        return str(row["group_name"])
    player = visit.view.player(row["player_id"])
    return player["alias"] if player is not None else str(row["player_id"])


def plans(visit: Visit) -> Response:
    """What is planned from this week on, and the form for another week."""
    rows = sorted(
        (
            {**row, "who": _called(visit, row), "week": date.fromisoformat(row["week_starting"])}
            for row in visit.view.rows["plans"]
        ),
        key=lambda row: (row["week"], row["who"]),
    )
    return visit.page(
        "plans",
        visit.words("desk.plans.title"),
        rows=rows,
        groups=visit.view.group_names(),
        players=visit.view.players(),
        numbers_asked=NUMBERS,
        monday=_monday(visit.desk.today()) + timedelta(days=7),
        waiting=[
            item.about.partition(" ")[2] for item in visit.lately() if item.kind == "plans" and item.at >= visit.view.written_at
        ],
        done=visit.request.query_params.get("done", "") == "planned",
    )


def _whose(visit: Visit) -> dict[str, str] | None:
    """The player or group that the form names, when this coach may plan for them."""
    kind, _, name = visit.field("who").partition(":")
    if kind == "player" and visit.view.player(name) is not None:
        return {"player_id": name}
    if kind == "group" and name in visit.view.group_names():
        return {"group_name": name}
    return None


def _week_of(visit: Visit) -> date | None:
    """The Monday of the week that the form names; None when it cannot be, or lies far away."""
    try:
        monday = _monday(date.fromisoformat(visit.field("week_starting")))
    except ValueError:
        return None
    first, last = _weeks_asked(visit)
    return monday if first <= monday <= last else None


def _weeks_asked(visit: Visit) -> tuple[date, date]:
    """The first and the last Monday of which a plan may be handed in."""
    this = _monday(visit.desk.today())
    return this - timedelta(weeks=_WEEKS_BACK), this + timedelta(weeks=_WEEKS_AHEAD)


def plan(visit: Visit) -> Response:
    """Hand in a plan for one week."""
    whose, week = _whose(visit), _week_of(visit)
    if whose is None:
        return visit.refused(404, "desk.plans.unknown")
    if week is None:
        first, last = (visit.words.day(day) for day in _weeks_asked(visit))
        return visit.refused(422, "desk.plans.week_far", first=first, last=last)
    try:
        planned = {name: whole(visit, name) for name in NUMBERS}
    except ValueError as unread:
        return visit.refused(422, "desk.number_unread", what=visit.words(f"desk.plans.{unread}"))
    phase = visit.field("phase") or None
    if phase is None and all(value is None for value in planned.values()):
        return visit.refused(422, "desk.plans.empty")
    row = {"week_starting": week, **whose, "phase": phase, **planned}
    who = _called(visit, {"group_name": None, "player_id": None, **whose})
    about = f"{week.isoformat()} {visit.words('desk.plans.line', who=who, week=visit.words.short_day(week))}"
    return visit.hand_in(Paper("plans", [row], about), "/plans?done=planned")
