"""Derived table from which transfer is told: what a month says by itself, so that closed months are not read again."""

from __future__ import annotations

from schemas.tables import Column, Table, day, integer, known, number, text, truth

MONTH_TOLD: tuple[Column, ...] = (
    day("month_on", "First day of the month.", required=True),
    integer("n_shots", "Shots with club speed, ball speed and launch.", required=True),
    integer("n_sessions", "Sessions.", required=True),
    number("club_speed_mps", "m/s", "Mean over sessions of the median club speed.", required=True),
    number("club_speed_error_mps", "m/s", "Standard error of it, between sessions; null below 3 sessions."),
    number("speed_ratio", "", "Median ball speed over club speed, restated for the reference ball and device.", required=True),
    number("launch_deg", "deg", "Median launch.", required=True),
    number("spin_rpm", "rpm", "Median spin."),
    number("carry_m", "m", "Mean over sessions of the median comparable carry."),
    number("carry_error_m", "m", "Standard error of it, between sessions; null below 3 sessions."),
)
"""What a month of one player with one club says of speed and carry."""

TRANSFER_LEVEL = Table(
    "transfer_level",
    "What the swings of one player with one club tell in one month by themselves; transfer is told from such months.",
    ("player_id", "club", "month_on"),
    (
        *known("player_id club", required=True),
        text("club_group", "Group of clubs: driver, fairway, hybrid, iron, wedge.", required=True),
        *MONTH_TOLD,
        number("carry_pooled_m", "m", "Carry by the pooled coefficients of drag and lift."),
        number("carry_bearman_harvey_m", "m", "Carry by those of Bearman and Harvey."),
        number("rigid_loss", "", "Mean share of ball speed that its strikes cost a rigid head; null below 10 strikes."),
        truth("is_factor_known", "What ball and device do was known by the end of the month for all shots.", required=True),
        text("device_id", "The device that measured most of the shots."),
        integer("strike_n", "Strikes that tell what one off the middle costs.", required=True),
        integer("strike_sessions", "Sessions with such strikes.", required=True),
        number("strike_loss_sum", "", "Sum of what they cost a rigid head [share of ball speed].", required=True),
        number("strike_xx", "", "Sum of squares of that about its mean of the session.", required=True),
        number("strike_xy", "", "Sum of products with the speed ratio over its mean of the session, less 1.", required=True),
        number("strike_yy", "", "Sum of squares of the latter.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (TRANSFER_LEVEL,)
