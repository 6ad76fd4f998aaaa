"""Tables of what lasts: levels now against the first normal and against a year ago."""

from __future__ import annotations

from schemas.tables import Table, day, integer, known, number, text, truth

LASTING = Table(
    "lasting_difference",
    "Level now against the first normal, or a year ago: speed, scatter, wild shots, aim, strokes of drives, and a week's swings.",
    ("player_id", "club_group", "metric", "against"),
    (
        *known("player_id", required=True),
        text("club_group", "Group of clubs; empty: none applies.", required=True),
        text("metric", "Quantity; strokes are those a round that the drives cost on the course that counts.", required=True),
        text("against", "first (the first normal) or year (a year ago).", required=True),
        day("then_on", "Day of the session after which that level was known.", required=True),
        number("then_level", "unit of the metric", "That level; null of strokes, whose months are compared as a whole."),
        day("now_on", "Day of the last session.", required=True),
        number("now_level", "unit of the metric", "Level now; null likewise."),
        number(
            "change",
            "change unit",
            "Total change: 100 times the logarithm of now over then; of wild shots points, of aim degrees, of strokes strokes.",
            required=True,
        ),
        number("change_low", "change unit", "Lower end of its 90 % interval.", required=True),
        number("change_high", "change unit", "Upper end.", required=True),
        integer("n_then", "Sessions, drives or weeks behind the level then.", required=True),
        integer("n_now", "The same of now.", required=True),
        number("worthwhile", "change unit", "Smallest worthwhile change.", required=True),
        truth("lasts", "The interval leaves 0 out, and the change is worth while.", required=True),
    ),
)

BODY_LASTING = Table(
    "body_lasting",
    "Stiffness of one region now against the first answers, or against those of a year ago.",
    ("player_id", "region", "against"),
    (
        *known("player_id", required=True),
        text("region", "Region of the body.", required=True),
        text("against", "first (the first normal) or year (a year ago).", required=True),
        day("then_on", "Last day of the answers compared with.", required=True),
        number("then_level", "", "Mean answer then, 0 to 10.", required=True),
        day("now_on", "Day of the last answer.", required=True),
        number("now_level", "", "Mean answer of the last 28 days.", required=True),
        number("change", "", "Now less then.", required=True),
        number("change_low", "", "Lower end of its 90 % interval.", required=True),
        number("change_high", "", "Upper end.", required=True),
        integer("n_then", "Answers then.", required=True),
        integer("n_now", "Answers of the last 28 days.", required=True),
        truth("lasts", "The interval leaves 0 out, and the change is at least a point.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (LASTING, BODY_LASTING)
