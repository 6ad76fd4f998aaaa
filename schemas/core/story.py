"""Tables of the record from which every page about a player derives, and of what open flags would say today."""

from __future__ import annotations

from schemas.tables import Column, Table, day, integer, known, number, text, truth

SHARES: tuple[Column, ...] = (
    number(
        "p_better",
        "",
        "Share of the distribution behind the interval of the change above the smallest worthwhile change; clear from .9 on.",
    ),
    number("p_trivial", "", "Share of it between the two."),
    number("p_worse", "", "Share of it below minus the smallest worthwhile change."),
)
"""Of the change of driver speed in four weeks; by themselves no chances that it is real."""

PLAYER_STORY = Table(
    "player_story",
    "One player in one record: driver speed now, against then, and what the drives cost; every sentence derives from it.",
    ("player_id",),
    (
        *known("player_id", required=True),
        day("on_date", "Day of the last session with driver speeds; null: there is none."),
        number("level", "m/s", "Level of club speed with driver after it."),
        number("level_low", "m/s", "Lower end of its 90 % interval."),
        number("level_high", "m/s", "Upper end."),
        number("change_28", "change unit", "Change of that level over 28 days."),
        number("change_28_low", "change unit", "Lower end of its 90 % interval."),
        number("change_28_high", "change unit", "Upper end."),
        *SHARES,
        number("worthwhile", "change unit", "Smallest worthwhile change, the same for a season."),
        integer("usual_n", "Own sessions behind the normal."),
        text("state", "learning, steady, rising, falling or stalled."),
        text("then_against", "year (a year ago) or first (the first normal); null: nothing to compare with."),
        day("then_on", "Day of the level compared with."),
        number("then_level", "m/s", "That level."),
        number("then_change", "change unit", "Total change since."),
        number("then_change_low", "change unit", "Lower end of its 90 % interval."),
        number("then_change_high", "change unit", "Upper end."),
        integer("then_n_then", "Sessions behind the level then."),
        integer("then_n_now", "Sessions behind the level now."),
        truth("then_lasts", "The interval leaves 0 out, and the change is worth while."),
        day("strokes_month_on", "Newest month of drives on the home course; null: none."),
        text("strokes_course", "The home course."),
        number("strokes_change", "strokes", "Strokes a round of the last three months less those of the reference months."),
        number("strokes_change_low", "strokes", "Lower end of its 90 % interval."),
        number("strokes_change_high", "strokes", "Upper end."),
        number("strokes_chance_cost", "", "Probability that the change costs strokes."),
    ),
)

_STILL_LIKELY = (
    "Of an open notice: share of what it called likely to be real that still is, since it has not become an alert; null: an "
    "alert, or a kind whose notices keep what they say."
)

FLAG_NOW = Table(
    "flag_now",
    "What the value of an open flag is today; the flag itself keeps that of its own day.",
    ("flag_id",),
    (
        text("flag_id", "The flag.", required=True),
        day("now_on", "Day of which the value is.", required=True),
        number("now_value", "", "The value, in the unit of the metric or kind.", required=True),
        number("now_low", "", "Lower end of its 90 % interval; null: a count, or a mean of answers."),
        number("now_high", "", "Upper end."),
        number("now_share", "", _STILL_LIKELY),
    ),
)

TABLES: tuple[Table, ...] = (PLAYER_STORY, FLAG_NOW)
"""In no particular order."""
