"""Marts of the pages that every reader shares: players, their sessions, and the files that came."""

from __future__ import annotations

from schemas.tables import Table, day, integer, known

PLAYER = Table(
    "mart_player",
    "One player with what has come from them.",
    ("player_id",),
    (
        *known("player_id alias", required=True),
        *known("birth_year sex handed joined_on left_on standard"),
        day("first_session_on", "Local day of the first session that was not a rest day."),
        day("last_session_on", "Local day of the last session that was not a rest day."),
        integer("n_sessions", "Sessions that were not rest days.", required=True),
        integer("n_shots", "Shots, warm-up included.", required=True),
    ),
)

MARTS: tuple[Table, ...] = (PLAYER,)
