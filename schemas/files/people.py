"""Files about players, their body, their plans and what was decided."""

from __future__ import annotations

import polars as pl

from schemas.files.kind import FileKind, Reference, RowRule, columns
from schemas.regions import REGIONS

PLAYER = Reference("player_id", "players", "unknown_player")


def days_in_order(first: str, last: str) -> RowRule:
    """The last day is not before the first."""
    return RowRule(
        "days_out_of_order",
        (last, first),
        pl.col(last) >= pl.col(first),
        f"{last} on or after {first}",
        "Check whether the two days were swapped, or day and month.",
        "order of time",
    )


PLAYERS = FileKind(
    name="players",
    table="player",
    title="A player of the academy.",
    columns=columns(
        "player_id alias",
        "groups course birth_year sex handed joined_on left_on standard health_consent height_cm",
        course="home_course",
    ),
    key=("player_id",),
    replaces=("player_id",),
    rules=(days_in_order("joined_on", "left_on"),),
    fills="absent columns",
)

_RATINGS = ("fatigue", "soreness", "stress", "sleep_trouble", "sleep_h", *(f"stiff_{region}" for region in REGIONS))

CHECKINS = FileKind(
    name="checkins",
    table="checkin",
    title="A player's answers on one day.",
    columns=columns("player_id date", " ".join((*_RATINGS, "note"))),
    key=("player_id", "date"),
    replaces=("player_id", "date"),
    rules=(
        RowRule(
            "nothing_answered",
            _RATINGS,
            pl.any_horizontal(pl.col(name).is_not_null() for name in _RATINGS),
            "at least one rating or the hours slept",
            "Leave the row out when nothing was answered: a missing day is unknown, an empty row says nothing.",
            "missing is not zero",
        ),
    ),
    references=(PLAYER,),
    body=True,
    fills="empty cells",
    day="date",
)

PROBLEMS = FileKind(
    name="problems",
    table="problem_report",
    title="One region in a player's weekly problem form.",
    columns=columns("player_id week_ending region", "participation modified performance symptoms onset note"),
    key=("player_id", "week_ending", "region"),
    replaces=("player_id", "week_ending"),
    overlaps_on=("player_id", "week_ending"),
    rules=(
        RowRule(
            "first_question_empty",
            ("participation",),
            pl.col("participation").is_not_null(),
            "an answer 0-3 to participation",
            "The first question decides whether the other three are asked: fill it in, 0 when there was no difficulty.",
            "order of the weekly form",
        ),
    ),
    references=(PLAYER,),
    body=True,
    day="week_ending",
)

ABSENCES = FileKind(
    name="absences",
    table="absence",
    title="A time in which a player could not train or play.",
    columns=columns("player_id began_on kind", "ended_on region onset", kind="absence_kind"),
    key=("player_id", "began_on", "kind"),
    replaces=("player_id", "began_on", "kind"),
    rules=(days_in_order("began_on", "ended_on"),),
    references=(PLAYER,),
    body=True,
    day="began_on",
)

PLANS = FileKind(
    name="plans",
    table="plan",
    title="The plan of a player, or of a group, for one week.",
    columns=columns("week_starting", "player_id group_name phase swings_full swings_speed minutes"),
    key=("player_id", "week_starting", "group_name"),
    replaces=("player_id", "week_starting", "group_name"),
    rules=(
        RowRule(
            "player_or_group",
            ("player_id", "group_name"),
            pl.col("player_id").is_null() != pl.col("group_name").is_null(),
            "either a player_id or a group_name",
            "Write whose plan it is: one player's, or that of everybody in a group.",
            "own rule",
        ),
    ),
    references=(PLAYER,),
)

MOBILITY = FileKind(
    name="mobility",
    table="mobility",
    title="One mobility screen.",
    columns=columns("player_id date test value_deg", "side"),
    key=("player_id", "date", "test", "side"),
    replaces=("player_id", "date"),
    references=(PLAYER,),
    body=True,
    day="date",
)

CHANGES = FileKind(
    name="changes",
    table="named_change",
    title="A day since which a player does something otherwise, or swings again.",
    columns=columns("player_id changed_on kind", kind="change_kind"),
    key=("player_id", "changed_on"),
    replaces=("player_id", "changed_on"),
    references=(PLAYER,),
)

DECISIONS = FileKind(
    name="decisions",
    table="decision",
    title="What a coach or physio decided about a flag.",
    columns=columns("flag_id decided_on role decision", "until note player_id flag_kind region raised_on"),
    key=("flag_id", "decided_on", "role"),
    replaces=("flag_id", "decided_on", "role"),
    rules=(days_in_order("decided_on", "until"),),
)
