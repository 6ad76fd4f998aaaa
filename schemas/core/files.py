"""Tables that hold the rows of files, and the ledger of files and problems."""

from __future__ import annotations

from schemas.fields import Field
from schemas.files import KINDS, FileKind
from schemas.tables import Column, Table, instant, integer, text, truth

PROVENANCE = (
    text("file_id", "The file that the row came from.", required=True),
    integer("line", "Line in that file; the header is line 1.", required=True),
)


def _column(name: str, field: Field, required: bool) -> Column:
    return Column(name, field.kind, field.description, field.unit, required)


def _table(kind: FileKind) -> Table:
    own = tuple(_column(column.name, column.field, column.required) for column in kind.columns)
    return Table(kind.table, kind.title, kind.key, own + PROVENANCE)


FILE = Table(
    "file",
    "One file that was dropped, by content, kind and mapping.",
    ("file_id",),
    (
        text(
            "file_id", "SHA-256 of the content as dropped, with its kind or the mapping that it was read through.", required=True
        ),
        text("name", "Path below the inbox.", required=True),
        text("kind", "Kind of file; empty when it was not recognised."),
        text("mapping", "Mapping that it was read through; empty for the native form."),
        instant("modified_at", "When the file was last changed, as its file system says.", required=True),
        instant("received_at", "When it was taken in.", required=True),
        integer("bytes", "Size.", required=True),
        integer("n_rows", "Rows in the file.", required=True),
        integer("n_loaded", "Rows loaded when it was taken in.", required=True),
        integer("n_quarantined", "Rows in quarantine.", required=True),
        integer(
            "n_ignored",
            "Rows that the mapping says to leave out (averages, totals); they are not rows of the file.",
            required=True,
        ),
        integer("n_warnings", "Doubts about rows that were loaded, or about the file.", required=True),
        text(
            "status",
            "loaded, held, superseded (a newer file replaced all of its rows) or withdrawn (somebody took it back).",
            required=True,
        ),
        text("superseded_by", "The file that replaced it."),
        text("kept_as", "Where the original lies in the workspace; empty when it was not there to be kept.", required=True),
        truth(
            "redacted",
            "The kept copy lacks rows about the body of players who have not agreed to it.",
            required=True,
        ),
        integer("n_emptied", "Bad cells that were emptied in rows that were loaded."),
        text("reading", "Digest of the mapping and the settings that it was read with."),
        text("absent", "Columns that it did not have, where that leaves what is there unchanged."),
    ),
)

PROBLEM = Table(
    "problem",
    "One problem with a row or a file.",
    ("file_id", "line", "column", "rule"),
    (
        text("file_id", "The file.", required=True),
        integer("line", "Line in the file; null for the whole file."),
        text("column", "Column; empty for the whole row.", required=True),
        text("value", "What stood there.", required=True),
        text("rule", "Code of the rule.", required=True),
        text("allowed", "What is allowed.", required=True),
        text("hint", "What to do.", required=True),
        text(
            "severity",
            "error (row in quarantine), emptied (cell emptied, row loaded), warning (row loaded), held (whole file held).",
            required=True,
        ),
        text(
            "row_key",
            "Key of the row, where it can be read: a corrected row with this key closes the problem.",
            required=True,
        ),
        truth("closed", "A later file brought the row right.", required=True),
    ),
)

ACADEMY = Table(
    "academy",
    "Settings that views need; one row.",
    ("name",),
    (
        text("name", "Name of the academy.", required=True),
        text("time_zone", "IANA name of its time zone.", required=True),
    ),
)

CLUB = Table(
    "club",
    "One club.",
    ("club",),
    (text("club", "The club.", required=True), text("club_group", "Group in which it is compared.", required=True)),
)

TABLES: tuple[Table, ...] = (*(_table(kind) for kind in KINDS.values()), FILE, PROBLEM, ACADEMY, CLUB)
