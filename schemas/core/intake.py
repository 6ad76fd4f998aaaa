"""Tables of the intake beside the ledger: rows that were replaced, and statements of consent."""

from __future__ import annotations

from schemas.tables import Table, instant, integer, text, truth

SUPERSEDED_ROW = Table(
    "superseded_row",
    "One row that a newer file replaced.",
    ("kind", "file_id", "line"),
    (
        text("kind", "Kind of file.", required=True),
        text("file_id", "The file that the row came from.", required=True),
        integer("line", "Line in that file.", required=True),
        text("part", "What is replaced as a whole: a session, a player's day.", required=True),
        text("row_key", "Key of the row by which two files are seen to speak of the same.", required=True),
        text("superseded_by", "The newest file that replaced it.", required=True),
    ),
)

CONSENT = Table(
    "consent",
    "One statement, in one players file, about the keeping of a player's body reports.",
    ("player_id", "file_id"),
    (
        text("player_id", "The player.", required=True),
        text("file_id", "The players file.", required=True),
        instant("stated_at", "When that file was last changed.", required=True),
        truth("agreed", "true: body reports may be kept.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (SUPERSEDED_ROW, CONSENT)
