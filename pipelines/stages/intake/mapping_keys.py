"""Every key of a mapping, once: the reader refuses all others, and the documentation is printed from here."""

# ruff: noqa: E501 - one line a key reads best
from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from schemas.units import UNITS

Shape = Literal["text", "number", "truth", "texts", "text or texts", "table", "words", "two numbers"]


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


_TOP = (
    MappingKey("", "kind", "text", "Kind of file that the export holds. Required.", 'kind = "shots"'),
    MappingKey("", "delimiter", "text", "Sign between cells; a comma by default.", 'delimiter = ";"'),
    MappingKey("", "encoding", "text", "Encoding; UTF-8 by default. A byte-order mark goes first.", 'encoding = "utf-16"'),
    MappingKey("", "skip_lines", "number", "Lines above the header.", "skip_lines = 2"),
    MappingKey(
        "", "header_lines", "number",
        "Lines of the header; 1 by default. The cells of two are joined by a blank, a group's name goes on to the right; "
        "with 0 the columns are called column 1, column 2 and so on. Names that stand twice are numbered: Speed (1), Speed (2).",
        "header_lines = 2",
    ),
    MappingKey("", "units_row", "truth", "The line below the header holds units and is no row; a file with other units there than here is held.", "units_row = true"),
    MappingKey("", "decimal", "text", "Decimal sign of numbers: . or ,", 'decimal = ","'),
    MappingKey("", "thousands", "text", "Sign between thousands; none by default.", 'thousands = "."'),
    MappingKey("", "time_zone", "text", "Zone of times without an offset; the academy's by default.", 'time_zone = "Europe/Berlin"'),
    MappingKey("", "sheet", "text", "Sheet of a spreadsheet; the first by default.", 'sheet = "Data"'),
    MappingKey(
        "", "rows", "text",
        "Nested JSON or Parquet: the way to the list that holds the rows. Fields of fields are written with dots; "
        "what stands outside the list is repeated in each row. Other lists are left out.",
        'rows = "session.shots"',
    ),
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
        "Regular expression for the file's name; each named group is a column of ours, or a word for templates. "
        "Looking ahead or back is not offered: a pattern takes time in proportion to the text, whatever stands there.",
        "pattern = '(?P<player_id>P\\d+)_(?P<day>\\d{4}-\\d\\d-\\d\\d)'",
    ),
    MappingKey("heading", "line", "number", "A line above the header. [[heading]] may stand several times.", "line = 1"),
    MappingKey("heading", "pattern", "text", "Regular expression for that line, with named groups as above.", "pattern = 'Player: (?P<player_id>\\S+)'"),
)  # fmt: skip

_LONG = (
    MappingKey("long", "name", "text", "One line becomes many rows: the word under which from and templates find what each row is about.", 'name = "what"'),
    MappingKey("long", "value", "text or texts", "The word under which they find the cell; several where several columns belong to one row.", 'value = "answer"'),
    MappingKey(
        "long.rows", "WORD", "text or texts",
        "One row for each: what the row is about, and the column (or columns, in the order of value) of the export that holds it. "
        "Where all of them are empty there is no row.",
        '"neck" = "Neck pain"',
    ),
)  # fmt: skip

_COLUMN = (
    MappingKey("columns.TARGET", "from", "text or texts", "Column of the export; of several the cells are joined by a blank.", 'from = ["Date", "Time"]'),
    MappingKey("columns.TARGET", "position", "number", "Instead of from: the column's place, from 1.", "position = 3"),
    MappingKey(
        "columns.TARGET", "template", "text",
        "Instead of from: text with {names} of columns of the export, of groups of patterns, or of columns of ours; {day} is the local day of the shot. "
        "Days and times of ours may be printed in a form: {struck_at:%Y%m%d}.",
        'template = "{player_id}-{day}"',
    ),
    MappingKey("columns.TARGET", "number_rows", "truth", "Instead of from: 1, 2, 3 ... within each session.", "number_rows = true"),
    MappingKey(
        "columns.TARGET", "left", "text",
        "Instead of from, with right: the export's column for the left side of the body. The player's hand tells which is lead: left for a right-handed player.",
        'left = "Left shoulder"',
    ),
    MappingKey("columns.TARGET", "right", "text", "The export's column for the right side of the body.", 'right = "Right shoulder"'),
    MappingKey(
        "columns.TARGET", "by_hand", "truth",
        "For side and region: left, right (left_knee, right_knee) become lead or trail by the player's hand.",
        "by_hand = true",
    ),
    MappingKey(
        "columns.TARGET", "names", "truth",
        "For player_id: cells are names. They are looked up in mappings/names.toml ([players], \"Anna B.\" = \"P07\") and among the players' aliases; an id stays.",
        "names = true",
    ),
    MappingKey("columns.TARGET", "cut", "text", "Regular expression: of the cell, only what its first group finds.", "cut = 'Bay (\\d+)'"),
    MappingKey("columns.TARGET", "unit", "text", "Unit in the export; ours by default.", 'unit = "mph"'),
    MappingKey(
        "columns.TARGET", "format", "text or texts",
        'Forms of days and times, tried in turn; "epoch s" and "epoch ms" count from 1970 in UTC.',
        'format = "%d.%m.%Y %H:%M:%S"',
    ),
    MappingKey(
        "columns.TARGET", "duration", "text",
        "Lengths of time such as 7h10, 7:10 or 1:05:30: what the numbers are, h:m, h:m:s or m:s. Letters at the numbers go first.",
        'duration = "h:m"',
    ),
    MappingKey(
        "columns.TARGET", "scale", "two numbers",
        "For ratings: the export's numbers for none or best, and for worst; they become 0 and 10. Written the other way round where 5 is best.",
        "scale = [1, 5]",
    ),
    MappingKey("columns.TARGET", "plus", "texts", 'Words at the number that make it positive: "12.3 R".', 'plus = ["R"]'),
    MappingKey("columns.TARGET", "minus", "texts", "Words at the number that make it negative; with a minus sign beside them the cell is refused.", 'minus = ["L"]'),
    MappingKey("columns.TARGET", "reverse", "truth", "The export counts the other way round: left positive, say.", "reverse = true"),
    MappingKey("columns.TARGET", "decimal", "text", "Decimal sign of this column, where it differs.", 'decimal = "."'),
    MappingKey("columns.TARGET", "thousands", "text", 'Sign between thousands of this column, where it differs; "" for none.', 'thousands = ""'),
    MappingKey("columns.TARGET", "words", "words", "Words of the export and what they mean here, whatever their case.", 'words = { "1W" = "driver" }'),
    MappingKey(
        "session", "COLUMN", "text",
        "With kind = shots: each new session_id makes a session that begins with its first shot and has these values. "
        "A sessions file that names it replaces it, whenever it comes.",
        'kind = "range"',
    ),
)  # fmt: skip

KEYS: tuple[MappingKey, ...] = (*_TOP, *_LONG, *_COLUMN)
_ANY = {"COLUMN", "TARGET", "WORD"}


def allowed_keys(place: str) -> frozenset[str]:
    """Keys that may stand in a table; empty when any may."""
    names = {key.key for key in KEYS if key.place == place}
    return frozenset() if names & _ANY else frozenset(names)


def shape_of(place: str, key: str) -> Shape:
    """What the value of a key must be."""
    for entry in KEYS:
        if entry.place == place and entry.key in {key, *_ANY}:
            return entry.shape
    raise KeyError(key)


def units_text() -> str:
    """All units of the key ``unit``, by what they measure, as Markdown."""
    quantities = dict.fromkeys(unit.quantity for unit in UNITS.values())
    lines = ["### Units", "", "| measures | units |", "|---|---|"]
    for quantity in quantities:
        symbols = (f"`{symbol}`" for symbol, unit in UNITS.items() if unit.quantity == quantity)
        lines.append(f"| {quantity} | {', '.join(symbols)} |")
    return "\n".join([*lines, ""])


def keys_text() -> str:
    """The reference of all keys and units, as Markdown."""
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
    return "\n".join(lines) + "\n" + units_text()
