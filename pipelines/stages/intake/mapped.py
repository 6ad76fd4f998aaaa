"""A foreign export as our columns: cells of text in, cells of text in our own form out, by the rules of a mapping."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.stages.intake.csv_text import text_lines
from pipelines.stages.intake.mapped_shape import foreign_cells, kept_rows, long_rows
from pipelines.stages.intake.mapped_units import odd_units
from pipelines.stages.intake.mapped_values import by_hand, day_text, instant_text, local_times, number_text, refused_unless
from pipelines.stages.intake.mapping_text import searched
from pipelines.stages.intake.other_formats import heading_lines
from pipelines.stages.intake.people import NOBODY, People, folded
from pipelines.stages.intake.table import LOOKED_UP, Cells, Unread, text_frame, without_empty
from schemas.fields import ID_PATTERN
from schemas.files import KINDS

if TYPE_CHECKING:
    from pipelines.stages.intake.mapping import Mapping
    from pipelines.stages.intake.mapping_columns import ColumnRule

_PLACES = re.compile(r"([^{]*)(?:\{([^}]*?)(?::(%[^}]*))?\})?")
"""Text, a name in braces, and the form in which it is printed."""


def _captured(mapping: Mapping, name: str, data: bytes, ending: str) -> dict[str, str] | Unread:
    """What the patterns find in the file's name and in the lines above the header."""
    found: dict[str, str] = {}
    if mapping.file_name:
        in_name = searched(mapping.file_name, name.rsplit("/", 1)[-1])
        if in_name is None:
            return Unread(
                "column_missing", name, "file name", hint="The file's name does not fit the pattern of the mapping: rename it."
            )
        found |= in_name
    if not mapping.heading:
        return found
    lines = _heading_lines(mapping, data, ending)
    if isinstance(lines, Unread):
        return lines
    for line, pattern in mapping.heading:
        text = lines[line - 1] if line <= len(lines) else ""
        in_line = searched(pattern, text)
        if in_line is None:
            return Unread("column_missing", text[:200], f"line {line}", hint="The line does not fit the pattern of the mapping.")
        found |= {key: value.strip() for key, value in in_line.items()}
    return found


def _heading_lines(mapping: Mapping, data: bytes, ending: str) -> list[str] | Unread:
    if ending == ".xlsx":
        return heading_lines(data, sheet=mapping.sheet or 0, n_lines=max(line for line, _ in mapping.heading))
    if ending != ".csv":
        return Unread("bad_mapping", "heading", hint="Only text and spreadsheets have lines above the header.")
    read = text_lines(data, mapping.encoding)
    return read if isinstance(read, Unread) else read[0]


class _Frame:
    """What a column may be made of: the export's columns, what patterns found, and our columns made so far."""

    def __init__(self, rows: pl.DataFrame, captured: dict[str, str], mapping: Mapping, people: People) -> None:
        self.rows = rows
        self.mapping = mapping
        self.captured = captured
        self.people = people
        self.made: dict[str, pl.Series] = {}

    def constant(self, value: str | None) -> pl.Series:
        return pl.repeat(value, self.rows.height, dtype=pl.String, eager=True)

    def named(self, name: str, form: str) -> pl.Series:
        """A column by a template's word, printed in a form; empty where nothing has that name."""
        column = self._found(name)
        if column is None:
            return self.constant(None)
        return local_times(column, self.mapping.time_zone).dt.to_string(form) if form else column

    def _found(self, name: str) -> pl.Series | None:
        if name in self.rows.columns:
            return self.rows[name]
        if name in self.captured:
            return self.constant(self.captured[name])
        if name == "day" and "struck_at" in self.made:
            return local_times(self.made["struck_at"], self.mapping.time_zone).dt.to_string("%Y-%m-%d")
        return self.made.get(name)

    @property
    def player(self) -> pl.Series:
        """Whose row it is."""
        return self.made.get("player_id", self.constant(None))


def _filled(template: str, frame: _Frame) -> pl.Series:
    """The template with its words filled in; null where one of them is empty."""
    parts: list[pl.Series] = []
    for text, name, form in _PLACES.findall(template):
        if text:
            parts.append(frame.constant(text))
        if name:
            parts.append(frame.named(name, form))
    named = [part.alias(str(place)) for place, part in enumerate(parts)]
    return pl.DataFrame(named).select(pl.concat_str(pl.all())).to_series()


def _joined(sources: tuple[str, ...], frame: _Frame) -> pl.Series:
    parts = pl.DataFrame([frame.rows[name].alias(str(place)) for place, name in enumerate(sources)])
    text = pl.concat_str(pl.all().fill_null(""), separator=" ").str.strip_chars()
    return parts.select(text.replace({"": None})).to_series()


def _numbered(frame: _Frame) -> pl.Series:
    sessions = frame.made.get("session_id", frame.constant("")).fill_null("")
    return pl.DataFrame({"s": sessions}).select(pl.int_range(1, pl.len() + 1).over("s").cast(pl.String)).to_series()


def _of_side(rule: ColumnRule, frame: _Frame) -> pl.Series:
    """The left or the right column, whichever is the wanted side of the player; both, refused, where the hand is unknown."""
    wants_lead = rule.target.removeprefix("stiff_").startswith("lead_")
    left, right = frame.rows[rule.left], frame.rows[rule.right]
    right_handed = frame.player.replace_strict(frame.people.hands, default=None, return_dtype=pl.String) == "right"
    both = pl.concat_str(pl.lit("? hand not known: left "), left.fill_null("empty"), pl.lit(", right "), right.fill_null("empty"))
    chosen = pl.when(right_handed == wants_lead).then(left).otherwise(right)
    unknown = right_handed.is_null() & (left.is_not_null() | right.is_not_null())
    return pl.select(pl.when(unknown).then(both).otherwise(chosen)).to_series()


def _source(rule: ColumnRule, frame: _Frame) -> pl.Series:
    if rule.template:
        return _filled(rule.template, frame)
    if rule.left:
        return _of_side(rule, frame)
    if rule.position:
        return frame.rows[:, rule.position - 1]
    return _joined(rule.sources, frame)


def _ids_of_names(text: pl.Series, people: People) -> pl.Series:
    """Ids for names; what is no name and no id stays as it is, and the check refuses it."""
    cells = text.drop_nulls().unique().to_list()
    known = {cell: people.ids[folded(cell)] for cell in cells if folded(cell) in people.ids}
    known |= {cell: cell for cell in cells if cell not in known and re.match(ID_PATTERN, cell)}
    return refused_unless([text.replace_strict(known, default=None, return_dtype=pl.String)], text)


def _in_our_words(rule: ColumnRule, frame: _Frame, text: pl.Series) -> pl.Series:
    """Cut to what matters, words and names replaced, left and right told by the hand."""
    if rule.cut:
        text = refused_unless([text.str.extract(rule.cut)], text)
    if rule.words:
        lower = text.str.to_lowercase()
        text = pl.select(
            pl.coalesce(lower.replace_strict(dict(rule.words), default=None, return_dtype=pl.String), text)
        ).to_series()
    if rule.names:
        text = _ids_of_names(text, frame.people)
    return by_hand(text.str.to_lowercase(), frame.player, frame.people.hands) if rule.by_hand else text


def _made(rule: ColumnRule, mapping: Mapping, frame: _Frame) -> tuple[pl.Series, pl.Series]:
    """A column of ours, and what stood in the file."""
    if rule.number_rows:
        numbers = _numbered(frame)
        return numbers, numbers
    original = _source(rule, frame)
    text = _in_our_words(rule, frame, original)
    field = KINDS[mapping.kind].column(rule.target).field
    if field.kind in {"number", "integer"}:
        text = number_text(rule, field, mapping, text)
    elif field.kind == "day" and rule.formats:
        text = day_text(rule, text)
    elif field.kind == "instant":
        text = instant_text(rule, mapping, text)
    return text, original


def _in_order(rules: tuple[ColumnRule, ...]) -> list[ColumnRule]:
    """Rules in the order in which they may use one another: sources first, then templates, numbering, and what needs a hand."""
    return sorted(rules, key=lambda rule: (rule.needs_hand, rule.number_rows, bool(rule.template)))


def mapped_cells(mapping: Mapping, name: str, ending: str, data: bytes, people: People = NOBODY) -> Cells | Unread:
    """An export as cells in our own form.

    Parameters
    ----------
    mapping : Mapping
    name : str
        The file's name, for values that stand in it.
    ending : str
    data : bytes
    people : People
        Names and hands, for mappings that ask for them.
    """
    if not data:
        return Unread("empty_file")
    captured = _captured(mapping, name, data, ending)
    read = foreign_cells(mapping, ending, data)
    if isinstance(read, Unread) or isinstance(captured, Unread):
        return read if isinstance(read, Unread) else captured if isinstance(captured, Unread) else Unread("not_readable")
    return _mapped(mapping, read, captured, people)


def native_rows(
    mapping: Mapping, header: tuple[str, ...], rows: list[list[str]], captured: dict[str, str], people: People
) -> Cells | Unread:
    """Rows that are split already, under native names; ``captured``: what stands outside the rows."""
    lines = np.arange(1, len(rows) + 1, dtype=np.int64)
    return _mapped(mapping, Cells(header, text_frame(header, rows), lines), captured, people)


def _mapped(mapping: Mapping, read: Cells, captured: dict[str, str], people: People) -> Cells | Unread:
    wide = read.header
    odd = odd_units(mapping, read)
    if odd is not None:
        return odd
    read = kept_rows(mapping, read)
    if mapping.long is not None:
        read = long_rows(mapping.long, read)
    absent = _absent(mapping, read, wide)
    if isinstance(absent, Unread):
        return absent
    made = _native(mapping, read, _Frame(read.rows, captured, mapping, people), absent)
    gone = [column for column in (mapping.long.columns if mapping.long else ()) if column not in wide]
    return replace(made, missing=(*made.missing, *gone)) if isinstance(made, Cells) else made


def _absent(mapping: Mapping, read: Cells, wide: tuple[str, ...]) -> dict[str, list[str]] | Unread:
    """Columns of ours whose sources the export does not have, and these; why not to go on, where one of them is needed."""
    absent = {rule: [source for source in rule.columns if source not in read.header] for rule in mapping.columns}
    absent |= {rule: [f"column {rule.position}"] for rule in mapping.columns if rule.position > len(read.header)}
    missing = {source for sources in absent.values() for source in sources}
    missing |= {column for column in (mapping.long.columns if mapping.long else ()) if column not in wide}
    twice = sorted(source for source in missing if f"{source} (1)" in wide)
    if twice:
        hint = f'The export has several columns of that name: write from = "{twice[0]} (1)" or position = ...'
        return Unread("duplicate_header", twice[0], twice[0], read.n_rows, hint)
    required = KINDS[mapping.kind].required
    needed = sorted({source for rule, sources in absent.items() for source in sources if rule.target in required})
    if needed:
        lost = ", ".join([*needed, *sorted(missing - {*needed})])
        hint = (
            f"The mapping {mapping.name} reads {lost}, and the export has no column of that name (any more): write there how it "
            "is called now; the file is then read anew."
        )
        return Unread("column_missing", ", ".join(wide)[:200], ", ".join(needed), read.n_rows, hint)
    return {rule.target: sources for rule, sources in absent.items() if sources}


def _native(mapping: Mapping, read: Cells, frame: _Frame, absent: dict[str, list[str]]) -> Cells | Unread:
    names = KINDS[mapping.kind].names
    for target, value in (*frame.captured.items(), *mapping.constants):
        if target in names:
            frame.made[target] = frame.constant(value)
    originals: dict[str, pl.Series] = {}
    for rule in _in_order(mapping.columns):
        if rule.target not in absent:
            frame.made[rule.target], originals[rule.target] = _made(rule, mapping, frame)
    if not read.rows.height and not read.faults:
        return Unread("no_rows")
    strangers = _strangers(mapping, without_empty(read).header)
    return Cells(
        tuple(frame.made) + strangers,
        pl.DataFrame([column.alias(name) for name, column in frame.made.items()]),
        read.lines,
        read.faults,
        read.n_ignored,
        {rule.target: _told_source(rule) for rule in mapping.columns if rule.columns or rule.position},
        pl.DataFrame([column.alias(name) for name, column in originals.items()]),
        mapping.session,
        tuple(dict.fromkeys(source for sources in absent.values() for source in sources)),
    )


def _told_source(rule: ColumnRule) -> str:
    source = ", ".join(rule.columns) or f"column {rule.position}"
    return f"{source} {LOOKED_UP}" if rule.names else source


def _strangers(mapping: Mapping, header: tuple[str, ...]) -> tuple[str, ...]:
    """Columns of the export that the mapping neither uses nor leaves out."""
    used = {source for rule in mapping.columns for source in rule.columns} | set(mapping.leave_out)
    used |= {name for name, _ in mapping.ignore}
    used |= {name for rule in mapping.columns for _, name, _ in _PLACES.findall(rule.template)}
    used |= {header[rule.position - 1] for rule in mapping.columns if 0 < rule.position <= len(header)}
    if mapping.long is not None:
        used |= {mapping.long.name, *mapping.long.values}
    names = KINDS[mapping.kind].names
    return tuple(name for name in header if name not in used and name not in names)
