"""Every key of a mapping, once: the reader refuses all others, and the documentation is printed from here."""

# ruff: noqa: E501 - one line a key reads best
from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Shape = Literal["text", "number", "truth", "texts", "text or texts", "table", "words"]


@dataclass(frozen=True)
class MappingKey:
    """One key.

    Attributes
    ----------
    place : str
        ``""`` for the top of the file, else the table that it stands in.
    key : str
    shape : str
        What its value is.
    meaning, example : str
    """

    place: str
    key: str
    shape: Shape
    meaning: str
    example: str


KEYS: tuple[MappingKey, ...] = (
    MappingKey("", "kind", "text", "Kind of file that the export holds. Required.", 'kind = "shots"'),
    MappingKey("", "delimiter", "text", "Sign between cells; a comma by default.", 'delimiter = ";"'),
    MappingKey("", "encoding", "text", "Encoding; UTF-8 by default. A byte-order mark goes first.", 'encoding = "utf-16"'),
    MappingKey("", "skip_lines", "number", "Lines above the header.", "skip_lines = 2"),
    MappingKey("", "units_row", "truth", "The line below the header holds units and is no row.", "units_row = true"),
    MappingKey("", "decimal", "text", "Decimal sign of numbers: . or ,", 'decimal = ","'),
    MappingKey("", "thousands", "text", "Sign between thousands; none by default.", 'thousands = "."'),
    MappingKey("", "time_zone", "text", "Zone of times without an offset; the academy's by default.", 'time_zone = "Europe/Berlin"'),
    MappingKey("", "sheet", "text", "Sheet of a spreadsheet; the first by default.", 'sheet = "Data"'),
    MappingKey("", "empty", "texts", "Words that stand for an empty cell.", 'empty = ["-", "n/a"]'),
    MappingKey("", "leave_out", "texts", "Columns that are left out on purpose, without a warning.", 'leave_out = ["Comment"]'),
    MappingKey(
        "ignore", "COLUMN", "text or texts",
        "Rows that are no rows (averages, totals): this column's cell is one of these words, whatever its case; \"\" is an empty cell.",
        '"Shot" = ["Average", "Total"]',
    ),
    MappingKey("constants", "TARGET", "text", "The same value in every row.", 'ball = "premium"'),
    MappingKey(
        "file_name", "pattern", "text",
        "Regular expression for the file's name; each named group is a column of ours, or a word for templates.",
        "pattern = '(?P<player_id>P\\d+)_(?P<day>\\d{4}-\\d\\d-\\d\\d)'",
    ),
    MappingKey("heading", "line", "number", "A line above the header. [[heading]] may stand several times.", "line = 1"),
    MappingKey("heading", "pattern", "text", "Regular expression for that line, with named groups as above.", "pattern = 'Player: (?P<player_id>\\S+)'"),
    MappingKey("columns.TARGET", "from", "text or texts", "Column of the export; of several the cells are joined by a blank.", 'from = ["Date", "Time"]'),
    MappingKey(
        "columns.TARGET", "template", "text",
        "Instead of from: text with {names} of columns of the export, of groups of patterns, or of columns of ours; {day} is the local day of the shot.",
        'template = "{player_id}-{day}"',
    ),
    MappingKey("columns.TARGET", "number_rows", "truth", "Instead of from: 1, 2, 3 ... within each session.", "number_rows = true"),
    MappingKey("columns.TARGET", "unit", "text", "Unit in the export; ours by default.", 'unit = "mph"'),
    MappingKey("columns.TARGET", "format", "text or texts", "Forms of days and times, tried in turn.", 'format = "%d.%m.%Y %H:%M:%S"'),
    MappingKey("columns.TARGET", "plus", "texts", 'Words at the number that make it positive: "12.3 R".', 'plus = ["R"]'),
    MappingKey("columns.TARGET", "minus", "texts", "Words at the number that make it negative.", 'minus = ["L"]'),
    MappingKey("columns.TARGET", "reverse", "truth", "The export counts the other way round: left positive, say.", "reverse = true"),
    MappingKey("columns.TARGET", "decimal", "text", "Decimal sign of this column, where it differs.", 'decimal = "."'),
    MappingKey("columns.TARGET", "words", "words", "Words of the export and what they mean here, whatever their case.", 'words = { "1W" = "driver" }'),
    MappingKey(
        "session", "COLUMN", "text",
        "With kind = shots: each new session_id makes a session that begins with its first shot and has these values. "
        "A sessions file that names it replaces it, whenever it comes.",
        'kind = "range"',
    ),
)  # fmt: skip


def allowed_keys(place: str) -> frozenset[str]:
    """Keys that may stand in a table; empty when any may."""
    names = {key.key for key in KEYS if key.place == place}
    return frozenset() if names & {"COLUMN", "TARGET"} else frozenset(names)


def shape_of(place: str, key: str) -> Shape:
    """What the value of a key must be."""
    for entry in KEYS:
        if entry.place == place and entry.key in {key, "COLUMN", "TARGET"}:
            return entry.shape
    raise KeyError(key)


def keys_text() -> str:
    """The reference of all keys, as Markdown."""
    lines: list[str] = []
    for place in dict.fromkeys(entry.place for entry in KEYS):
        title = f"`[{place}]`" if place else "Top of the file"
        lines += [
            f"### {'`[[heading]]`' if place == 'heading' else title}",
            "",
            "| key | value | meaning | example |",
            "|---|---|---|---|",
        ]
        for entry in KEYS:
            if entry.place == place:
                example = entry.example.replace("|", "\\|")
                lines.append(f"| `{entry.key}` | {entry.shape} | {entry.meaning} | `{example}` |")
        lines.append("")
    return "\n".join(lines)
