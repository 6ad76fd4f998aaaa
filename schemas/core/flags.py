"""Tables of flags: what the rules said of each night, the flags, and what happened to them."""

from __future__ import annotations

from schemas.tables import Column, Table, day, integer, number, text, texts, truth

_STREAM: tuple[Column, ...] = (
    text("metric", "Quantity; empty where none applies.", required=True),
    text("region", "Region of the body; empty where none applies.", required=True),
    text("club_group", "Group of clubs; empty where none applies.", required=True),
    text("device_id", "Device; empty where none applies.", required=True),
)

_NUMBERS: tuple[Column, ...] = (
    number("value", "", "What was found, in the unit of the metric or kind."),
    number("baseline", "", "What it was compared with."),
    number("low", "", "Lower end of the 90 % interval of the value."),
    number("high", "", "Upper end."),
)

_EVIDENCE: tuple[Column, ...] = (
    *_STREAM,
    *_NUMBERS,
    number("p_value", "", "Chance of as much when nothing has happened."),
    integer("n", "Sessions, answers or days behind it."),
    number("strength", "", "Order in lists: larger first.", required=True),
    texts("reasons", "Reason codes, each with its number.", required=True),
    texts("sources", "Session ids, or checkin:DATE, plan:DATE and the like.", required=True),
)

CANDIDATE = Table(
    "flag_candidate",
    "What one rule said of one stream on one night.",
    ("player_id", "on_date", "kind", "metric", "region", "club_group", "device_id"),
    (
        text("player_id", "Player; empty: about a device.", required=True),
        day("on_date", "The night.", required=True),
        text("kind", "Kind of flag.", required=True),
        *_STREAM,
        truth("opens", "The opening condition holds.", required=True),
        truth("holds", "The condition to stay open holds.", required=True),
        truth("certain", "A fact, not an inference.", required=True),
        number("p_value", "", "Of an inference."),
        integer("n_streams", "Streams of this kind and player that were tested in the week."),
        integer("n_players", "Players who were tested for this kind in the week."),
        number("strength", "", "Order in lists: larger first.", required=True),
        *_NUMBERS,
        integer("n", "Sessions, answers or days behind it."),
        texts("reasons", "Reason codes.", required=True),
        texts("sources", "Where it comes from.", required=True),
    ),
)

FLAG = Table(
    "flag",
    "One finding about one player (or one device), from the night on which it was first supported.",
    ("flag_id",),
    (
        text("flag_id", "Eight letters and digits; the same in every run.", required=True),
        text("player_id", "Player; empty: about a device.", required=True),
        text("kind", "Kind of flag.", required=True),
        text("level", "notice or alert.", required=True),
        text("audience", "coach, physio or both.", required=True),
        day("raised_on", "Night on which the data known by then first supported it.", required=True),
        day("alerted_on", "Night on which it became an alert."),
        day("closed_on", "Night on which it closed; null while open."),
        text(
            "closed_because",
            "Empty while open; over (the rule holds no more), back (at the normal), not_clear (no longer clearly apart from it), "
            "lasting, small (less is left than is worth calling a change), no_data, left (the player has); of a device: device, "
            "players or unclear.",
            required=True,
        ),
        text("led_by", "Flag in whose message it is told; empty: it has its own.", required=True),
        *_EVIDENCE,
    ),
)

EVENT = Table(
    "flag_event",
    "What happened to one flag on one night, with the evidence of that night.",
    ("flag_id", "on_date", "event"),
    (
        text("flag_id", "The flag.", required=True),
        day("on_date", "The night.", required=True),
        text(
            "event",
            "raised, alerted, held (taken back: a device is suspected), or the reason for which it closed.",
            required=True,
        ),
        text("level", "Level after it.", required=True),
        text("led_by", "Flag in whose message it is told.", required=True),
        *_EVIDENCE,
    ),
)

TABLES: tuple[Table, ...] = (CANDIDATE, FLAG, EVENT)
