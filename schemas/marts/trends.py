"""Marts of trends and devices."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.flags import FLAG
from schemas.core.lasting import LASTING
from schemas.core.trends import DEVICE_OFFSET, TREND_POINT
from schemas.tables import Table, day, integer, known, number, text, truth

_TREND = (
    "player_id club_group metric series session_id on_date club device_id n value level level_low level_high change_28 "
    "change_28_low change_28_high p_up p_better p_trivial p_worse worthwhile odd usual usual_sd usual_n state"
)
_POINT = {column.name: column for column in TREND_POINT.columns}

TREND = Table(
    "mart_trend",
    "What is known of one quantity of one player after one session.",
    ("player_id", "club_group", "metric", "on_date", "session_id"),
    tuple(_POINT[name] for name in _TREND.split()),
)

DEVICE = Table(
    "mart_device",
    "What came from one device.",
    ("device_id",),
    (
        *known("device_id", required=True),
        day("first_on", "Local day of its first session.", required=True),
        day("last_on", "Local day of its last session.", required=True),
        integer("n_sessions", "Sessions.", required=True),
        integer("n_players", "Players.", required=True),
        integer("n_shots", "Shots.", required=True),
        integer("n_tied", "Players who used it and another one within 28 days.", required=True),
        truth(
            "is_yardstick", "Whether others are read against it: tied to one that has an offset, none of its own.", required=True
        ),
    ),
    readers=("coach", "physio", "data"),
)

OFFSET = replace(DEVICE_OFFSET, name="mart_device_offset", readers=("coach", "physio", "data"))

_FLAG = {column.name: column for column in FLAG.columns}

SUSPICION = Table(
    "mart_device_suspicion",
    "A suspicion of a device, what a person said of it, and what is taken off since.",
    ("flag_id",),
    (
        _FLAG["flag_id"],
        *(_FLAG[name] for name in ("device_id", "metric", "raised_on", "closed_on", "closed_because")),
        *(_FLAG[name] for name in ("value", "low", "high", "n")),
        text("decision", "Last word of a person about it: device, players, unclear or another decision; null: none."),
        day("decided_on", "Day of it."),
        day(
            "taken_off_on",
            "First day from which at least half of the move is taken off without a break; null: it is not.",
        ),
        number("taken_off", "change unit", "What is taken off now, less what was before the move."),
        truth("is_taken_off", "The move is taken off now.", required=True),
    ),
    readers=("coach", "data"),
)

_LASTING = (
    "player_id club_group metric against then_on then_level now_on now_level change change_low change_high n_then n_now lasts"
)
_DIFFERENCE = {column.name: column for column in LASTING.columns}

LASTS = Table(
    "mart_lasting",
    "A level now against the first normal, or against a year ago.",
    LASTING.grain,
    tuple(_DIFFERENCE[name] for name in _LASTING.split()),
)

_LEVEL = {name: _POINT[name] for name in ("level", "level_low", "level_high")}

SEASON_LEVEL = Table(
    "mart_season_level",
    "Where one quantity with driver lay at the end of one of the last three spans of twelve months.",
    ("player_id", "metric", "seasons_back"),
    (
        *known("player_id", required=True),
        _POINT["metric"],
        integer("seasons_back", "0: the twelve months up to the newest session with it; 1, 2: those before.", required=True),
        day("from_on", "Local day of the first session in them.", required=True),
        day("on_date", "Local day of the last session in them.", required=True),
        *_LEVEL.values(),
        integer("n_sessions", "Sessions in them.", required=True),
        integer("n_shots", "Shots behind their values.", required=True),
    ),
)

TREND_PAST = Table(
    "mart_trend_past",
    "Where a level may lie by now, of which nothing has come in the 28 days up to the last day.",
    ("player_id", "club_group", "metric"),
    (
        *known("player_id", required=True),
        _POINT["club_group"],
        _POINT["metric"],
        day("on_date", "Local day of the newest session with it.", required=True),
        *(
            number(name, "unit of the metric", f"{end} end of the 90 % interval of the level on the last day.", required=True)
            for name, end in (("now_low", "Lower"), ("now_high", "Upper"))
        ),
    ),
)

SPEED_MARK = Table(
    "mart_speed_mark",
    "A session with driver that is marked where sessions are not drawn: the first on a further device, or an odd one.",
    ("player_id", "session_id", "kind"),
    (
        *known("player_id session_id", required=True),
        text("kind", "device: the first session on it, of any device but the player's first; odd.", required=True),
        day("on_date", "Local day of the session.", required=True),
        text("device_id", "The device; null of an odd session."),
    ),
)

MARTS: tuple[Table, ...] = (TREND, DEVICE, OFFSET, SUSPICION, LASTS, SEASON_LEVEL, TREND_PAST, SPEED_MARK)
