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
from schemas.core.proposals import TRADEOFF_PROPOSAL
from schemas.tables import Table, integer, known, text

_AS_THEY_STAND = (
    TRANSFER_MONTH,
    PATTERN_MONTH,
    STROKE_MONTH,
    BREAK_EVEN,
    TRADEOFF_LINE,
    ROUND_MONTH,
    SCORE_GAIN,
    TRADEOFF_PROPOSAL,
)

EVENT_ROUND = Table(
    "mart_event_round",
    "One round of an event, as the player's score card says.",
    ("player_id", "event", "played_on", "round_no"),
    (
        *known("player_id event played_on", required=True),
        *known("round_no event_round course holes strokes penalties"),
    ),
    readers=("coach", "player"),
)

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

MARTS: tuple[Table, ...] = (
    *(replace(table, name=f"mart_{table.name}") for table in _AS_THEY_STAND),
    replace(BALL_FACTOR, name="mart_ball_factor", readers=("coach", "physio")),
    CARRY_METHOD,
    EVENT_ROUND,
)
