"""A foreign export as our columns: cells of text in, cells of text in our own form out, by the rules of a mapping.

A cell that a rule cannot read gets a question mark in front, so that the check refuses it and names what stood in the file;
as it stands it might pass for one of ours, in another unit.
"""

from __future__ import annotations

import re
from dataclasses import replace

import polars as pl

from pipelines.stages.intake.csv_text import Dialect, careful, text_lines
from pipelines.stages.intake.mapping import ColumnRule, Mapping
from pipelines.stages.intake.other_formats import heading_lines, json_cells, parquet_cells, sheet_cells
from pipelines.stages.intake.table import Cells, Unread
from schemas.fields import Field
from schemas.files import KINDS
from schemas.units import conversion

_NUMBER = r"([+-]?[0-9][0-9.,'\u00a0\u202f ]*|[+-]?[.,][0-9]+)"
_WORD = r"^\s*([^\d+\-.,\s][^\d]*?)?\s*" + _NUMBER + r"\s*([^\d\s][^\d]*?)?\s*$"
_UNIT_WORDS = {
    "deg": ("°", "deg", "degrees"),
    "%": ("%",),
    "degC": ("°c", "c"),
    "degF": ("°f", "f"),
    "yd": ("yds", "yards"),
    "m": ("meter", "metres"),
}
_OWN_FORMS = tuple(f"%Y-%m-%d{sign}%H:%M{rest}" for sign in "T " for rest in (":%S%.f", "", ":%S%.f%#z", "%#z"))
_LATE = "\u2212"
"""The minus sign of typography; exports use it beside the hyphen."""


def foreign_cells(mapping: Mapping, ending: str, data: bytes) -> Cells | Unread:
    """The export split into cells, under its own column names."""
    if ending == ".parquet":
        return parquet_cells(data, native=False)
    if ending == ".jsonl":
        return json_cells(data, native=False)
    if ending == ".xlsx":
        sheet: str | int = mapping.sheet or 0
        return sheet_cells(data, sheet=sheet, header_line=mapping.skip_lines + 1, skip=int(mapping.units_row), native=False)
    if ending != ".csv":
        return Unread("unknown_format")
    dialect = Dialect(mapping.delimiter, mapping.encoding, mapping.skip_lines + 1, mapping.units_row, native=False)
    return careful(data, dialect)


def _captured(mapping: Mapping, name: str, data: bytes, ending: str) -> dict[str, str] | Unread:
    """What the patterns find in the file's name and in the lines above the header."""
    found: dict[str, str] = {}
    if mapping.file_name:
        match = re.search(mapping.file_name, name.rsplit("/", 1)[-1])
        if match is None:
            return Unread(
                "column_missing", name, "file name", hint="The file's name does not fit the pattern of the mapping: rename it."
            )
        found |= {key: value for key, value in match.groupdict().items() if value}
    if not mapping.heading:
        return found
    lines = _heading_lines(mapping, data, ending)
    if isinstance(lines, Unread):
        return lines
    for line, pattern in mapping.heading:
        text = lines[line - 1] if line <= len(lines) else ""
        match = re.search(pattern, text)
        if match is None:
            return Unread("column_missing", text[:200], f"line {line}", hint="The line does not fit the pattern of the mapping.")
        found |= {key: value.strip() for key, value in match.groupdict().items() if value}
    return found


def _heading_lines(mapping: Mapping, data: bytes, ending: str) -> list[str] | Unread:
    if ending == ".xlsx":
        return heading_lines(data, sheet=mapping.sheet or 0, n_lines=max(line for line, _ in mapping.heading))
    if ending != ".csv":
        return Unread("bad_mapping", "heading", hint="Only text and spreadsheets have lines above the header.")
    read = text_lines(data, mapping.encoding)
    return read if isinstance(read, Unread) else read[0]


def _kept(mapping: Mapping, cells: Cells) -> Cells:
    """Cells without rows that are to be left out, and with empty words emptied."""
    rows = cells.rows
    keep = pl.repeat(value=True, n=rows.height, dtype=pl.Boolean, eager=True)
    for column, words in mapping.ignore:
        if column in rows.columns:
            keep &= ~rows[column].fill_null("").str.to_lowercase().is_in([word.lower() for word in words])
    if mapping.empty:
        emptied = [word.lower() for word in mapping.empty]
        rows = rows.with_columns(pl.when(~pl.all().str.to_lowercase().is_in(emptied)).then(pl.all()))
    n_ignored = int((~keep).sum())
    return replace(cells, rows=rows.filter(keep), lines=cells.lines[keep.to_numpy()], n_ignored=n_ignored)


class _Frame:
    """What a column may be made of: the export's columns, what patterns found, and our columns made so far."""

    def __init__(self, rows: pl.DataFrame, captured: dict[str, str], time_zone: str) -> None:
        self.rows = rows
        self.time_zone = time_zone
        self.captured = captured
        self.made: dict[str, pl.Series] = {}

    def constant(self, value: str) -> pl.Series:
        return pl.repeat(value, self.rows.height, dtype=pl.String, eager=True)

    def named(self, name: str) -> pl.Series | None:
        """A column by a template's word."""
        if name in self.rows.columns:
            return self.rows[name]
        if name in self.captured:
            return self.constant(self.captured[name])
        if name == "day" and "struck_at" in self.made:
            return _local_day(self.made["struck_at"], self.time_zone)
        return self.made.get(name)


def _local_day(text: pl.Series, time_zone: str) -> pl.Series:
    """The local day of times in our form."""
    local = text.str.slice(0, 10)
    if not time_zone:
        return local
    at_utc = text.str.to_datetime("%Y-%m-%dT%H:%M:%S%.fZ", strict=False, time_unit="us").dt.replace_time_zone("UTC")
    day = at_utc.dt.convert_time_zone(time_zone).dt.to_string("%Y-%m-%d")
    return pl.select(pl.coalesce(day, local)).to_series()


def _filled(template: str, frame: _Frame) -> pl.Series:
    """The template with its words filled in; null where one of them is empty."""
    parts: list[pl.Series] = []
    for text, name in re.findall(r"([^{]*)(?:\{([^}]*)\})?", template):
        if text:
            parts.append(frame.constant(text))
        if name:
            column = frame.named(name)
            parts.append(column if column is not None else pl.repeat(None, frame.rows.height, dtype=pl.String, eager=True))
    named = [part.alias(str(place)) for place, part in enumerate(parts)]
    return pl.DataFrame(named).select(pl.concat_str(pl.all())).to_series()


def _joined(rule: ColumnRule, frame: _Frame) -> pl.Series:
    parts = [frame.rows[name].fill_null("").alias(str(place)) for place, name in enumerate(rule.sources)]
    text = pl.DataFrame(parts).select(pl.concat_str(pl.all(), separator=" ")).to_series().str.strip_chars()
    return text.replace({"": None})


def _numbered(frame: _Frame) -> pl.Series:
    sessions = frame.made.get("session_id", frame.constant("")).fill_null("")
    return pl.DataFrame({"s": sessions}).select(pl.int_range(1, pl.len() + 1).over("s").cast(pl.String)).to_series()


def _plain_number(text: pl.Series, decimal: str, thousands: str) -> pl.Series:
    """Digits with a decimal point; null where the signs do not fit together."""
    text = text.str.replace_all("[\u00a0\u202f ']", "")
    if thousands:
        grouped = rf"^[+-]?\d{{1,3}}({re.escape(thousands)}\d{{3}})*([{re.escape(decimal)}]\d*)?$|^[^{re.escape(thousands)}]*$"
        text = pl.select(pl.when(text.str.contains(grouped)).then(text.str.replace_all(re.escape(thousands), ""))).to_series()
    if decimal == ",":
        text = pl.select(pl.when(~text.str.contains(r"\.")).then(text.str.replace(",", "."))).to_series()
    return text.cast(pl.Float64, strict=False)


def _sign(rule: ColumnRule, word: pl.Series, unit_words: tuple[str, ...]) -> pl.Series:
    """+1 or -1 by the word at the number; null for a word that says nothing."""
    signs = dict.fromkeys(("", *unit_words), 1.0)
    signs |= {each.lower(): 1.0 for each in rule.plus} | {each.lower(): -1.0 for each in rule.minus}
    return word.str.strip_chars().str.to_lowercase().replace_strict(signs, default=None, return_dtype=pl.Float64)


def _or_refused(read: list[pl.Series], text: pl.Series) -> pl.Series:
    """What could be read; else the cell in a form that no check takes for a value."""
    return pl.select(pl.coalesce(*read, pl.concat_str(pl.lit("? "), text))).to_series()


def _number(rule: ColumnRule, field: Field, mapping: Mapping, text: pl.Series) -> pl.Series:
    """Numbers in our unit, as text."""
    text = text.str.replace_all(_LATE, "-")
    parts = text.str.extract_groups(_WORD).struct.unnest()
    before, digits, after = (parts[name].fill_null("") for name in parts.columns)
    unit = rule.unit or field.unit
    words = (unit.lower(), *_UNIT_WORDS.get(unit, ())) if unit else ()
    value = _plain_number(digits, rule.decimal or mapping.decimal, mapping.thousands)
    value = value * _sign(rule, before, words) * _sign(rule, after, words) * (-1.0 if rule.reverse else 1.0)
    if rule.unit and rule.unit != field.unit:
        to_si = conversion(rule.unit, field.unit)
        value = value * to_si.factor + to_si.offset
    written = (value + 0.0).cast(pl.String)
    return _or_refused([written], text)


def _day(rule: ColumnRule, text: pl.Series) -> pl.Series:
    read = [text.str.to_date(form, strict=False).cast(pl.String) for form in rule.formats]
    return _or_refused(read, text)


def _instant(rule: ColumnRule, mapping: Mapping, text: pl.Series) -> pl.Series:
    """Times in our form: local where the mapping names no zone, else UTC."""
    if not rule.formats and not mapping.time_zone:
        return text
    found: list[pl.Series] = []
    for form in rule.formats or _OWN_FORMS:
        local = text.str.to_datetime(form, strict=False, time_unit="us")
        if local.dtype == pl.Datetime("us", "UTC"):
            found.append(local.dt.to_string("%Y-%m-%dT%H:%M:%S%.fZ"))
        elif mapping.time_zone:
            zoned = local.dt.replace_time_zone(mapping.time_zone, ambiguous="earliest", non_existent="null")
            found.append(zoned.dt.convert_time_zone("UTC").dt.to_string("%Y-%m-%dT%H:%M:%S%.fZ"))
        else:
            found.append(local.dt.to_string("%Y-%m-%dT%H:%M:%S%.f"))
    return _or_refused(found, text)


def _made(rule: ColumnRule, mapping: Mapping, frame: _Frame) -> tuple[pl.Series, pl.Series]:
    """A column of ours, and what stood in the file."""
    if rule.number_rows:
        numbers = _numbered(frame)
        return numbers, numbers
    original = _filled(rule.template, frame) if rule.template else _joined(rule, frame)
    text = original
    if rule.words:
        lower = text.str.to_lowercase()
        text = pl.select(
            pl.coalesce(lower.replace_strict(dict(rule.words), default=None, return_dtype=pl.String), text)
        ).to_series()
    field = KINDS[mapping.kind].column(rule.target).field
    if field.kind in {"number", "integer"}:
        text = _number(rule, field, mapping, text)
    elif field.kind == "day" and rule.formats:
        text = _day(rule, text)
    elif field.kind == "instant":
        text = _instant(rule, mapping, text)
    return text, original


def _in_order(rules: tuple[ColumnRule, ...]) -> list[ColumnRule]:
    """Rules in the order in which they may use one another: sources first, then templates, then numbering."""
    return sorted(rules, key=lambda rule: (rule.number_rows, bool(rule.template)))


def mapped_cells(mapping: Mapping, name: str, ending: str, data: bytes) -> Cells | Unread:
    """An export as cells in our own form.

    Parameters
    ----------
    mapping : Mapping
    name : str
        The file's name, for values that stand in it.
    ending : str
    data : bytes
    """
    if not data:
        return Unread("empty_file")
    captured = _captured(mapping, name, data, ending)
    read = foreign_cells(mapping, ending, data)
    if isinstance(read, Unread) or isinstance(captured, Unread):
        return read if isinstance(read, Unread) else captured if isinstance(captured, Unread) else Unread("not_readable")
    absent = [(rule, source) for rule in mapping.columns for source in rule.sources if source not in read.header]
    needed = sorted({source for rule, source in absent if rule.target in KINDS[mapping.kind].required})
    if needed:
        return Unread("column_missing", ", ".join(read.header)[:200], ", ".join(needed), read.n_rows)
    return _native(mapping, _kept(mapping, read), captured, {rule.target for rule, _ in absent})


def _native(mapping: Mapping, read: Cells, captured: dict[str, str], absent: set[str]) -> Cells | Unread:
    frame = _Frame(read.rows, captured, mapping.time_zone)
    names = KINDS[mapping.kind].names
    for target, value in (*captured.items(), *mapping.constants):
        if target in names:
            frame.made[target] = frame.constant(value)
    originals: dict[str, pl.Series] = {}
    for rule in _in_order(mapping.columns):
        if rule.target not in absent:
            frame.made[rule.target], originals[rule.target] = _made(rule, mapping, frame)
    if not read.rows.height and not read.faults:
        return Unread("no_rows")
    used = (
        {source for rule in mapping.columns for source in rule.sources}
        | set(mapping.leave_out)
        | {name for name, _ in mapping.ignore}
    )
    used |= {name for rule in mapping.columns for name in re.findall(r"\{([^}]*)\}", rule.template)}
    strangers = tuple(name for name in read.header if name not in used and name not in names)
    origin = {rule.target: ", ".join(rule.sources) for rule in mapping.columns if rule.sources}
    return Cells(
        tuple(frame.made) + strangers,
        pl.DataFrame([column.alias(name) for name, column in frame.made.items()]),
        read.lines,
        read.faults,
        read.n_ignored,
        origin,
        pl.DataFrame([column.alias(name) for name, column in originals.items()]),
        mapping.session,
    )
