"""Marts of the intake: files and problems, for the page about the data."""

from __future__ import annotations

from schemas.tables import Table, instant, integer, text, truth

FILE = Table(
    "mart_file",
    "One file that was dropped, and what became of it.",
    ("file_id",),
    (
        text(
            "file_id", "SHA-256 of the content as dropped, with its kind or the mapping that it was read through.", required=True
        ),
        text("name", "Path below the inbox.", required=True),
        text("kind", "Kind of file; empty when it was not recognised."),
        text("mapping", "Mapping that it was read through; empty for the native form."),
        instant("modified_at", "When the file was last changed.", required=True),
        instant("received_at", "When it was taken in.", required=True),
        text("status", "loaded, held, superseded or withdrawn.", required=True),
        text("reason", "Code of why it was held; empty otherwise.", required=True),
        integer("n_rows", "Rows in the file.", required=True),
        integer("n_loaded", "Rows loaded.", required=True),
        integer("n_quarantined", "Rows in quarantine.", required=True),
        integer("n_ignored", "Rows that the mapping leaves out.", required=True),
        integer("n_warnings", "Doubts.", required=True),
        integer("n_replaced", "Loaded rows that a newer file replaced.", required=True),
        integer("n_open", "Problems that no later file has brought right.", required=True),
        text("replaced_by", "Name of the file that replaced it; empty when none did.", required=True),
    ),
    readers=("data",),
)

PROBLEM = Table(
    "mart_problem",
    "One problem with a row or a file; of rows about the body, and of decisions, without the value.",
    ("file_id", "line", "column", "rule"),
    (
        text("file_id", "The file.", required=True),
        text("name", "Path of the file below the inbox.", required=True),
        text("kind", "Kind of file."),
        instant("received_at", "When the file was taken in.", required=True),
        integer("line", "Line in the file; null for the whole file."),
        text("column", "Column; empty for the whole row.", required=True),
        text("value", "What stood there; empty for rows about the body, and of decisions.", required=True),
        text("rule", "Code of the rule.", required=True),
        text("allowed", "What is allowed.", required=True),
        text("hint", "What to do.", required=True),
        text("severity", "error, emptied, warning, held.", required=True),
        truth("closed", "A later file brought it right.", required=True),
        integer("n_alike", "Open problems of this file with the same rule and column.", required=True),
    ),
    readers=("data",),
)

WAITING = Table(
    "mart_waiting",
    "How much of what came waits for a person: a number only, of kinds that tell nothing of a body.",
    ("what",),
    (
        text("what", "held: files held whole; problem: problems that wait.", required=True),
        integer("n", "How many.", required=True),
    ),
    readers=("coach", "physio"),
)

MARTS: tuple[Table, ...] = (FILE, PROBLEM, WAITING)
