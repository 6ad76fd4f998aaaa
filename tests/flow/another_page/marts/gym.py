"""Contract of a mart that a test adds: gym sessions by week."""

from __future__ import annotations

from schemas.tables import Table, day, integer, text

GYM_WEEK = Table(
    "mart_gym_week",
    "Gym sessions of a player in a week.",
    ("player_id", "week_starting"),
    (
        text("player_id", "Player.", required=True),
        text("alias", "Name shown on pages.", required=True),
        day("week_starting", "Monday.", required=True),
        integer("n_gym", "Gym sessions.", required=True),
    ),
    readers=("coach",),
)
MARTS = (GYM_WEEK,)
