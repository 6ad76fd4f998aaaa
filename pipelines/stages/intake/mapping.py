"""A mapping: how a foreign export becomes our columns. Read from TOML and checked as it is read; a fault names its line."""

from __future__ import annotations

import codecs
import re
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from zoneinfo import available_timezones

import polars as pl

from pipelines.stages.intake.mapping_keys import allowed_keys, shape_of
from schemas.errors import SettingsError
from schemas.files import KINDS, FileKind
from schemas.units import UNITS, conversion

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@dataclass(frozen=True)
class ColumnRule:
    """How one of our columns is made. Attributes are the keys of ``[columns.TARGET]``."""

    target: str
    sources: tuple[str, ...] = ()
    template: str = ""
    number_rows: bool = False
    unit: str = ""
    formats: tuple[str, ...] = ()
    plus: tuple[str, ...] = ()
    minus: tuple[str, ...] = ()
    reverse: bool = False
    decimal: str = ""
    words: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Mapping:
    """One mapping. Attributes are the keys at the top of the file and its tables."""

    name: str
    kind: str
    columns: tuple[ColumnRule, ...]
    delimiter: str = ","
    encoding: str = ""
    skip_lines: int = 0
    units_row: bool = False
    decimal: str = "."
    thousands: str = ""
    time_zone: str = ""
    sheet: str = ""
    empty: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    ignore: tuple[tuple[str, tuple[str, ...]], ...] = ()
    constants: tuple[tuple[str, str], ...] = ()
    file_name: str = ""
    heading: tuple[tuple[int, str], ...] = ()
    session: tuple[tuple[str, str], ...] = ()


class _Reader:
    """Reads one mapping and knows at which line each key stands."""

    def __init__(self, name: str, text: str) -> None:
        self.name = name
        self.text = text

    def fault(self, what: str, key: str, place: str = "", todo: str = "") -> SettingsError:
        """The error about a key."""
        line = self.line_of(key, place)
        where = f"mappings/{self.name}.toml" + (f" line {line}" if line else "")
        return SettingsError(f"{where}: {what}.", todo or "See `speedworth map --keys` for all keys.")

    def line_of(self, key: str, place: str) -> int:
        """Line of a key in a table; of the table when the key is not found; 0 when neither is."""
        table, found = "", 0
        for number, line in enumerate(self.text.splitlines(), 1):
            header = re.match(r"\s*\[+\s*(.+?)\s*\]+\s*(#.*)?$", line)
            if header:
                table = header[1].replace('"', "").replace(" ", "")
                found = number if table == place else found
            elif table == place and re.match(rf"\s*\"?{re.escape(key)}\"?\s*=", line):
                return number
        return found

    def shaped(self, place: str, pattern_place: str, table: dict[str, Any]) -> None:
        """Refuse keys that are not known and values that are not of their shape."""
        allowed = allowed_keys(pattern_place)
        for key, value in table.items():
            if allowed and key not in allowed:
                raise self.fault(f"unknown key {key}", key, place, f"Allowed here: {', '.join(sorted(allowed))}.")
            shape = shape_of(pattern_place, key)
            if not _SHAPES[shape](value):
                raise self.fault(f"{key} must be {_SHAPE_WORDS[shape]}", key, place)


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _is_texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 1000


def _is_words(value: object) -> bool:
    return isinstance(value, dict) and all(isinstance(item, str) for item in value.values())


_SHAPES: dict[str, Callable[[object], bool]] = {
    "text": _is_text,
    "number": _is_count,
    "truth": lambda value: isinstance(value, bool),
    "texts": _is_texts,
    "text or texts": lambda value: _is_text(value) or _is_texts(value),
    "table": lambda value: isinstance(value, dict),
    "words": _is_words,
}
_SHAPE_WORDS = {
    "text": "text in quotation marks",
    "number": "a whole number from 0 to 999",
    "truth": "true or false",
    "texts": 'a list of texts: ["a", "b"]',
    "text or texts": 'a text or a list of texts: ["a", "b"]',
    "table": "a table",
    "words": 'a table of texts: { "1W" = "driver" }',
}
_TABLES = ("ignore", "constants", "file_name", "columns", "session")


def _listed(value: str | list[str] | None) -> tuple[str, ...]:
    return () if value is None else (value,) if isinstance(value, str) else tuple(value)


def _kind(reader: _Reader, raw: dict[str, Any]) -> FileKind:
    kind = raw.get("kind", "")
    if kind not in KINDS:
        raise reader.fault(f"kind is {kind!r}" if kind else "kind is missing", "kind", "", f"Use one of {', '.join(KINDS)}.")
    return KINDS[kind]


def _column(reader: _Reader, kind: FileKind, target: str, raw: object) -> ColumnRule:
    place = f"columns.{target}"
    if target not in kind.names:
        raise reader.fault(f"{kind.name} has no column {target}", target, place, f"Its columns: {', '.join(kind.names)}.")
    if not isinstance(raw, dict):
        raise reader.fault(f"{target} must be a table", target, "columns", f'Write [{place}] and below it from = "...".')
    reader.shaped(place, "columns.TARGET", raw)
    if len({"from", "template", "number_rows"} & raw.keys()) != 1:
        raise reader.fault(f"{target} needs one of from, template, number_rows", target, place)
    rule = ColumnRule(
        target,
        _listed(raw.get("from")),
        raw.get("template", ""),
        raw.get("number_rows", False),
        raw.get("unit", ""),
        _listed(raw.get("format")),
        _listed(raw.get("plus")),
        _listed(raw.get("minus")),
        raw.get("reverse", False),
        raw.get("decimal", ""),
        tuple((word.strip().lower(), meaning) for word, meaning in raw.get("words", {}).items()),
    )
    _check_column(reader, kind, rule, place)
    return rule


def _check_column(reader: _Reader, kind: FileKind, rule: ColumnRule, place: str) -> None:
    field = kind.column(rule.target).field
    if rule.unit:
        if rule.unit not in UNITS:
            raise reader.fault(f"unknown unit {rule.unit}", "unit", place, f"Units: {', '.join(UNITS)}.")
        try:
            conversion(rule.unit, field.unit)
        except (KeyError, ValueError):
            wanted = f"{field.unit}" if field.unit else "no unit"
            raise reader.fault(f"{rule.target} has {wanted}; {rule.unit} cannot be converted into it", "unit", place) from None
    if rule.formats and field.kind not in {"day", "instant"}:
        raise reader.fault(f"{rule.target} is no day or time, it takes no format", "format", place)
    for form in rule.formats:
        if not _is_form(form, field.kind):
            raise reader.fault(f"the form {form!r} cannot be used", "format", place, "Use %Y %m %d %H %M %S and the like.")
    if (rule.plus or rule.minus or rule.reverse) and field.kind not in {"number", "integer"}:
        raise reader.fault(f"{rule.target} is no number, it has no sign", "plus", place)
    for word, meaning in rule.words:
        if field.allowed and meaning not in field.allowed:
            raise reader.fault(f"{word} is to mean {meaning!r}", "words", place, f"Allowed: {', '.join(field.allowed)}.")


def _is_form(form: str, kind: str) -> bool:
    sample = pl.Series(["x"])
    try:
        sample.str.to_date(form, strict=False) if kind == "day" else sample.str.to_datetime(form, strict=False, time_unit="us")
    except pl.exceptions.PolarsError:
        return False
    return "%" in form


def _pattern(reader: _Reader, pattern: str, place: str) -> str:
    try:
        compiled = re.compile(pattern)
    except re.error as fault:
        raise reader.fault(f"the pattern cannot be used: {fault}", "pattern", place) from fault
    if not compiled.groupindex:
        raise reader.fault("the pattern has no named group", "pattern", place, "Write (?P<player_id>...) around the value.")
    return pattern


def _constants(reader: _Reader, kind: FileKind, place: str, raw: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    for name in raw:
        if name not in kind.names:
            raise reader.fault(f"{kind.name} has no column {name}", name, place, f"Its columns: {', '.join(kind.names)}.")
    return tuple(raw.items())


def _check_top(reader: _Reader, raw: dict[str, Any]) -> None:
    reader.shaped("", "", {key: value for key, value in raw.items() if key not in {*_TABLES, "heading"}})
    for table in _TABLES:
        if not isinstance(raw.get(table, {}), dict):
            raise reader.fault(f"{table} must be a table", table, "", f"Write [{table}].")
    decimal, thousands = raw.get("decimal", "."), raw.get("thousands", "")
    if decimal not in {".", ","} or thousands == decimal or len(thousands) > 1:
        raise reader.fault("decimal must be . or , and thousands another sign", "decimal", "")
    if len(raw.get("delimiter", ",")) != 1:
        raise reader.fault("delimiter must be one sign", "delimiter", "", 'A tab is written "\\t".')
    if raw.get("time_zone", "") and raw["time_zone"] not in available_timezones():
        raise reader.fault(f"unknown time zone {raw['time_zone']}", "time_zone", "", 'Write it as "Europe/Berlin".')
    try:
        codecs.lookup(raw.get("encoding", "") or "utf-8")
    except LookupError:
        raise reader.fault(f"unknown encoding {raw['encoding']}", "encoding", "", 'Try "utf-8", "utf-16" or "cp1252".') from None


def _headings(reader: _Reader, raw: dict[str, Any]) -> tuple[tuple[int, str], ...]:
    blocks = raw.get("heading", [])
    if not isinstance(blocks, list) or not all(isinstance(block, dict) for block in blocks):
        raise reader.fault("heading must be written [[heading]]", "heading", "heading")
    for block in blocks:
        reader.shaped("heading", "heading", block)
        if not {"line", "pattern"} <= block.keys() or block["line"] < 1:
            raise reader.fault("a heading needs line (from 1) and pattern", "line", "heading")
    return tuple((block["line"], _pattern(reader, block["pattern"], "heading")) for block in blocks)


def _captured(mapping: Mapping) -> set[str]:
    patterns = [mapping.file_name, *(pattern for _, pattern in mapping.heading)]
    return {name for pattern in patterns if pattern for name in re.compile(pattern).groupindex}


def _check_whole(reader: _Reader, kind: FileKind, mapping: Mapping) -> None:
    made = {rule.target for rule in mapping.columns} | dict(mapping.constants).keys() | _captured(mapping)
    missing = [name for name in kind.required if name not in made]
    if missing:
        raise reader.fault(f"nothing says where {', '.join(missing)} of {kind.name} come from", "kind", "")
    if mapping.session and kind.name != "shots":
        raise reader.fault("only shots can make sessions", "session", "session")
    if mapping.session and "kind" not in dict(mapping.session):
        raise reader.fault("the sessions need a kind", "kind", "session", 'Write kind = "range" below [session].')


def parsed_mapping(name: str, text: str) -> Mapping:
    """A mapping from its text.

    Raises
    ------
    SettingsError
        When it cannot be used as written; the message names the line.
    """
    reader = _Reader(name, text)
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise SettingsError(
            f"mappings/{name}.toml cannot be read: {fault}.", "Correct the line; text stands in quotation marks."
        ) from fault
    kind = _kind(reader, raw)
    _check_top(reader, raw)
    for table in ("ignore", "constants", "file_name", "session"):
        reader.shaped(table, table, raw.get(table, {}))
    mapping = Mapping(
        name,
        kind.name,
        tuple(_column(reader, kind, target, rule) for target, rule in raw.get("columns", {}).items()),
        **{
            key: raw[key]
            for key in ("delimiter", "encoding", "skip_lines", "units_row", "decimal", "thousands", "time_zone", "sheet")
            if key in raw
        },
        empty=_listed(raw.get("empty")),
        leave_out=_listed(raw.get("leave_out")),
        ignore=tuple((column, _listed(words)) for column, words in raw.get("ignore", {}).items()),
        constants=_constants(reader, kind, "constants", raw.get("constants", {})),
        file_name=_pattern(reader, raw["file_name"].get("pattern", ""), "file_name") if "file_name" in raw else "",
        heading=_headings(reader, raw),
        session=_constants(reader, KINDS["sessions"], "session", raw.get("session", {})),
    )
    _check_whole(reader, kind, mapping)
    return mapping


def read_mapping(path: Path) -> Mapping:
    """A mapping from its file.

    Raises
    ------
    SettingsError
        When it cannot be read or used as written.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise SettingsError(f"mappings/{path.name} cannot be read: {fault}.", "Save it as UTF-8 text.") from fault
    return parsed_mapping(path.stem, text)
