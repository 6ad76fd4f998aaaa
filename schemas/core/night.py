"""What the derived tables and the site were last made from."""

from __future__ import annotations

from schemas.tables import Table, day, integer, text

NIGHT_STATE = Table(
    "night_state",
    "What the derived tables and the site were last made from: one row, or none while they are being made.",
    ("fingerprint",),
    (
        text("fingerprint", "SHA-256 of the rows of files, the settings, the program and the day.", required=True),
        day("as_of", "Last day that was considered.", required=True),
    ),
)

STAGE_UNIT = Table(
    "stage_unit",
    "What the rows of one player, month or session were computed from in one stage of a night: where it is the same, they stand.",
    ("stage", "unit"),
    (
        text("stage", "Name of the stage.", required=True),
        text("unit", "Player, and month or session where the stage goes by those, with | between them.", required=True),
        integer("digest", "Digest of the rows that the stage read, of the settings and of the program.", required=True),
    ),
)

SQUAD_ESTIMATE = Table(
    "squad_estimate",
    "An estimate of the squad at a fixed moment (a norm, offsets of devices, resemblance): with the same inputs it stands.",
    ("inputs",),
    (
        text("inputs", "Digest of all that the estimate was made from.", required=True),
        text("made_by", "Stage, digest of the program, and versions of the libraries, that made it.", required=True),
        text("found", "The estimate, as JSON.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (NIGHT_STATE, SQUAD_ESTIMATE, STAGE_UNIT)
"""Tables of this area."""
