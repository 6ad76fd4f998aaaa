"""Derived tables of the season's programme: phases, what was done in them, and what changed."""

from __future__ import annotations

from schemas.tables import Table, day, integer, known, number, text

PHASE = Table(
    "phase",
    "One season phase of one player: planned and done, and the levels on either side of it.",
    ("player_id", "began_on"),
    (
        *known("player_id", required=True),
        text("phase", "Name of the phase, from the plan.", required=True),
        day("began_on", "First day: the phase counts from it.", required=True),
        day("ended_on", "Last day of its last planned week that has begun.", required=True),
        integer("n_weeks", "Planned weeks that have begun.", required=True),
        integer("n_days", "Days of those weeks that are over.", required=True),
        integer("n_days_known", "Of them, days with a session or a rest row.", required=True),
        integer("planned_full", "Full swings planned, of the weeks that are over."),
        integer("planned_speed", "Full-effort swings planned, of the weeks that are over."),
        number("planned_minutes", "min", "Minutes planned, of the weeks that are over."),
        integer("done_full", "Full swings done in them, scaled by the days known; null below 5 of 7."),
        number("done_share", "", "Full swings done over planned."),
        number("done_minutes", "min", "Minutes done, likewise."),
        integer("n_sessions", "Sessions that were not rest days.", required=True),
        integer("n_speed_sessions", "Driver sessions with a speed.", required=True),
        number("speed_before_mps", "m/s", "Level of club speed with driver at the last session of the 60 days before."),
        number("speed_after_mps", "m/s", "Level at its last session."),
        number("speed_change_mps", "m/s", "The difference of the two."),
        number("speed_change_low_mps", "m/s", "Lower end of its 90 % interval, the two levels taken as independent."),
        number("speed_change_high_mps", "m/s", "Upper end."),
        number("scatter_change_m", "m", "Change of left-right scatter with driver, likewise."),
        number("scatter_change_low_m", "m", "Lower end of its 90 % interval."),
        number("scatter_change_high_m", "m", "Upper end."),
    ),
)

PHASE_STROKE = Table(
    "phase_stroke",
    "Strokes a round on one course, of the months on either side of a season phase.",
    ("player_id", "began_on", "course"),
    (
        *known("player_id", required=True),
        day("began_on", "First day of the phase.", required=True),
        text("course", "The course.", required=True),
        day("before_month_on", "Last month with drives that ended before the phase, of the three before.", required=True),
        day("after_month_on", "Last month with drives that the phase reached.", required=True),
        number("per_round_before", "", "Expected strokes of the tee shots of a round, month before.", required=True),
        number("per_round_after", "", "The same, last month.", required=True),
        number("stroke_change", "", "The difference: above zero costs strokes.", required=True),
        number("stroke_change_low", "", "Lower end of its 90 % interval, the two months taken as independent.", required=True),
        number("stroke_change_high", "", "Upper end.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (PHASE, PHASE_STROKE)
