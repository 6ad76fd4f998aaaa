"""What the export of a person holds beside the warehouse's rows: where they came from, what was refused, what the desk keeps."""

from __future__ import annotations

from schemas.tables import Table, instant, integer, known, text

RECEIPT = Table(
    "receipt",
    "A file with rows of the person.",
    ("file", "received_at"),
    (
        text("file", "Name under which it was dropped.", required=True),
        text("kind", "Kind of file."),
        instant("received_at", "When it was taken in.", required=True),
        instant("modified_at", "When the file was last changed before.", required=True),
        text("status", "loaded, held, superseded by a newer file, or withdrawn.", required=True),
        integer("n_rows", "Rows of the person that count now.", required=True),
        integer("n_replaced", "Rows of the person that newer ones have replaced.", required=True),
        integer("n_refused", "Rows of the person of which something was refused or doubted.", required=True),
        text("kept_as", "Where the original is kept in the workspace; empty when it is not."),
    ),
)

REFUSAL = Table(
    "refusal",
    "Something that was refused, emptied or doubted in a row of the person.",
    ("file", "line", "column", "rule"),
    (
        text("file", "Name of the file.", required=True),
        instant("received_at", "When it was taken in.", required=True),
        integer("line", "Line of the file."),
        text("column", "Column of the cell."),
        text("value", "What stood there."),
        text("rule", "Code of the rule.", required=True),
        text("allowed", "What the rule allows."),
        text("severity", "error: the row was not loaded; emptied: the cell was not; warning: a doubt; held: the file was not."),
    ),
)

ORIGINAL_LINE = Table(
    "original_line",
    "A row of the person as it stands in a kept original.",
    ("file", "received_at", "line"),
    (
        text("file", "Name of the file.", required=True),
        instant("received_at", "When it was taken in.", required=True),
        integer("line", "Line at which the row begins.", required=True),
        text("text", "The row as it was dropped; of a format that is no text, its cells by column as JSON.", required=True),
        text("heading", "The line that names the columns, where there is one."),
    ),
)

GROUP_PLAN = Table(
    "group_plan",
    "A week planned for a group of the person, which counts as the person's plan.",
    ("week_starting",),
    (*known("week_starting group_name", required=True), *known("phase swings_full swings_speed minutes")),
)

DESK_HAND_IN = Table(
    "desk_hand_in",
    "A form that the person sent at the desk.",
    ("at", "kind", "about"),
    (
        text("at", "When (UTC).", required=True),
        text("role", "As whom.", required=True),
        text("kind", "Kind of file that it became.", required=True),
        text("about", "The day, week or session that it was about.", required=True),
        text("file", "Name of that file.", required=True),
    ),
)

DESK_LINK = Table(
    "desk_link",
    "A personal link to the desk.",
    ("role",),
    (
        text("role", "Whose: the player's or a guardian's.", required=True),
        text("made_at", "When it was made (UTC).", required=True),
        integer("serial", "How many there were before it.", required=True),
    ),
)

DESK_NOTE = Table(
    "desk_note",
    "What was noted at the desk beside a shot of a trial of the person.",
    ("sheet", "line"),
    (
        text("sheet", "Trial and day.", required=True),
        integer("line", "Line of the notes.", required=True),
        text("text", "The note as it is kept, as JSON.", required=True),
    ),
)

MENTION = Table(
    "mention",
    "A place that names the person and is about somebody else too: a person has to look at it, it is not part of this export.",
    ("place",),
    (
        text("place", "Table and column, or the kept or waiting file; names of others are taken out.", required=True),
        integer("n", "How many texts or lines there name the person.", required=True),
    ),
)

TABLES = (RECEIPT, REFUSAL, ORIGINAL_LINE, GROUP_PLAN, DESK_HAND_IN, DESK_LINK, DESK_NOTE, MENTION)
