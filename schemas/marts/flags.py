"""Marts of flags, one for each reader: who may see what is settled here and nowhere else."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.flags import FLAG
from schemas.core.story import FLAG_NOW
from schemas.tables import Column, Table, day, number, text, truth

_LEFT_OUT = frozenset({"led_by", "p_value", "sources"})
_OWN = {column.name: column for column in FLAG.columns if column.name not in _LEFT_OUT}
_COLUMNS: tuple[Column, ...] = (
    _OWN["flag_id"],
    _OWN["player_id"],
    text("alias", "Name shown on pages; null: about a device."),
    *(column for name, column in _OWN.items() if name not in {"flag_id", "player_id"}),
    text("decision", "Last decision about it; null: none."),
    day("decided_on", "Day of that decision; null where the reader is told only that there is one."),
    day("decided_until", "Last day for which that decision holds."),
    text("decision_state", "under_decision, or back because its date has passed or it has grown: date_passed, grown."),
    day("said_on", "Night of which its numbers are.", required=True),
    day("now_on", "Day of the value of today; null: it is not followed from day to day."),
    number("now_value", "", "The value of today."),
    number("now_low", "", "Lower end of its 90 % interval; null: a count, or a mean of answers."),
    number("now_high", "", "Upper end."),
    next(column for column in FLAG_NOW.columns if column.name == "now_share"),
    truth("now_is_past", "Whether nothing has come since now_on in the 28 days up to the last day; null without now_on."),
    text("course", "Of strokes: the course that counts for the player; null otherwise, and where none is known."),
)

COACH = Table(
    "mart_flag_coach",
    "A flag that the coach may see: nothing of the body, and of a physio's decision only that there is one.",
    ("flag_id",),
    _COLUMNS,
    readers=("coach",),
)
PHYSIO = replace(COACH, name="mart_flag_physio", title="A flag that the physio may see: load and body.", readers=("physio",))
PLAYER = replace(COACH, name="mart_flag_player", title="A flag about the player, for the player's own page.", readers=("player",))

MARTS: tuple[Table, ...] = (COACH, PHYSIO, PLAYER)
