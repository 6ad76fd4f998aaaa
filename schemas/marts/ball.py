"""Marts of the ball: transfer, patterns, strokes and the trade-off map."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.ball import (
    BALL_FACTOR,
    BREAK_EVEN,
    PATTERN_MONTH,
    ROUND_MONTH,
    SCORE_GAIN,
    STROKE_MONTH,
    TRADEOFF_LINE,
    TRANSFER_MONTH,
)
from schemas.tables import Table, integer, known, number, text

_AS_THEY_STAND = (TRANSFER_MONTH, PATTERN_MONTH, STROKE_MONTH, BREAK_EVEN, TRADEOFF_LINE, ROUND_MONTH, SCORE_GAIN)

CARRY_METHOD = Table(
    "mart_carry_method",
    "How many of a player's carries came about in one way.",
    ("player_id", "club_group", "method", "reason"),
    (
        *known("player_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        text("method", "anchored, computed, measured_only or none.", required=True),
        text("reason", "What stood in the way or was assumed; empty: nothing.", required=True),
        integer("n_shots", "Shots.", required=True),
    ),
)

TRADEOFF_PROPOSAL = Table(
    "mart_tradeoff_proposal",
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

MARTS: tuple[Table, ...] = (
    *(replace(table, name=f"mart_{table.name}") for table in _AS_THEY_STAND),
    replace(BALL_FACTOR, name="mart_ball_factor", readers=("coach", "physio")),
    CARRY_METHOD,
    TRADEOFF_PROPOSAL,
)
