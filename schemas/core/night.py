"""What the derived tables and the site were last made from."""

from __future__ import annotations

from schemas.tables import Table, day, text

NIGHT_STATE = Table(
    "night_state",
    "What the derived tables and the site were last made from: one row, or none while they are being made.",
    ("fingerprint",),
    (
        text("fingerprint", "SHA-256 of the rows of files, the settings, the program and the day.", required=True),
        day("as_of", "Last day that was considered.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (NIGHT_STATE,)
"""Tables of this area."""
