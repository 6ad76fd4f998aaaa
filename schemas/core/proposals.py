"""Derived table of trials on the trade-off map."""

from __future__ import annotations

from schemas.tables import Table, integer, known, number, text

TRADEOFF_PROPOSAL = Table(
    "tradeoff_proposal",
    "Where an arm of a technique trial would put the player on the trade-off map, from where the player is now.",
    ("player_id", "trial_id", "arm"),
    (
        *known("player_id trial_id", required=True),
        text("arm", "The changed arm.", required=True),
        text("question", "The one thing that changes.", required=True),
        integer("n_shots", "Shots of the arm.", required=True),
        number("club_speed_mps", "m/s", "Club speed now plus what the arm adds."),
        number("direction_sd_deg", "deg", "Scatter now times what the arm makes of it."),
        number("change_speed_mps", "m/s", "Club speed of the arm less that of the player's normal."),
        number("scatter_ratio", "", "Left-right scatter of the arm over that of the player's normal."),
    ),
)

TABLES: tuple[Table, ...] = (TRADEOFF_PROPOSAL,)
