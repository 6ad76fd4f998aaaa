"""A mapping: how a foreign export becomes our columns. Read from TOML and checked as it is read; a fault names its line."""

from __future__ import annotations

import codecs
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from zoneinfo import available_timezones

from pipelines.stages.intake.mapping_columns import ColumnRule, column_rule
from pipelines.stages.intake.mapping_text import MappingText, groups_of, listed
from schemas.errors import SettingsError
from schemas.files import KINDS, FileKind

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class LongRule:
    """One line as many rows. Attributes are the keys of ``[long]``; ``rows``: what a row is about, and its columns."""

    name: str
    values: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns of the export that it names."""
        return tuple(column for _, columns in self.rows for column in columns)


@dataclass(frozen=True)
class Mapping:
    """One mapping. Attributes are the keys at the top of the file and its tables."""

    name: str
    kind: str
    columns: tuple[ColumnRule, ...]
    delimiter: str = ","
    encoding: str = ""
    skip_lines: int = 0
    header_lines: int = 1
    units_row: bool = False
    decimal: str = "."
    thousands: str = ""
    time_zone: str = ""
    sheet: str = ""
    rows: str = ""
    empty: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    ignore: tuple[tuple[str, tuple[str, ...]], ...] = ()
    constants: tuple[tuple[str, str], ...] = ()
    file_name: str = ""
    heading: tuple[tuple[int, str], ...] = ()
    session: tuple[tuple[str, str], ...] = ()
    long: LongRule | None = None

    @property
    def needs_people(self) -> bool:
        """It asks who is who."""
        return any(rule.names or rule.needs_hand for rule in self.columns)


_PLAIN = (
    "delimiter", "encoding", "skip_lines", "header_lines", "units_row", "decimal", "thousands", "time_zone", "sheet", "rows",
)  # fmt: skip
_TABLES = ("ignore", "constants", "file_name", "columns", "session", "long")


def _kind(reader: MappingText, raw: dict[str, Any]) -> FileKind:
    kind = raw.get("kind", "")
    if kind not in KINDS:
        raise reader.fault(f"kind is {kind!r}" if kind else "kind is missing", "kind", "", f"Use one of {', '.join(KINDS)}.")
    return KINDS[kind]


def _constants(reader: MappingText, kind: FileKind, place: str, raw: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    for name in raw:
        if name not in kind.names:
            raise reader.fault(f"{kind.name} has no column {name}", name, place, f"Its columns: {', '.join(kind.names)}.")
    return tuple(raw.items())


def _check_top(reader: MappingText, raw: dict[str, Any]) -> None:
    reader.shaped("", "", {key: value for key, value in raw.items() if key not in {*_TABLES, "heading"}})
    for table in _TABLES:
        if not isinstance(raw.get(table, {}), dict):
            raise reader.fault(f"{table} must be a table", table, "", f"Write [{table}].")
    decimal, thousands = raw.get("decimal", "."), raw.get("thousands", "")
    if decimal not in {".", ","} or thousands == decimal or len(thousands) > 1:
        raise reader.fault("decimal must be . or , and thousands another sign", "decimal", "")
    if raw.get("header_lines", 1) > 2:
        raise reader.fault("header_lines must be 0, 1 or 2", "header_lines", "")
    if len(raw.get("delimiter", ",")) != 1:
        raise reader.fault("delimiter must be one sign", "delimiter", "", 'A tab is written "\\t".')
    if raw.get("time_zone", "") and raw["time_zone"] not in available_timezones():
        raise reader.fault(f"unknown time zone {raw['time_zone']}", "time_zone", "", 'Write it as "Europe/Berlin".')
    try:
        codecs.lookup(raw.get("encoding", "") or "utf-8")
    except LookupError:
        raise reader.fault(f"unknown encoding {raw['encoding']}", "encoding", "", 'Try "utf-8", "utf-16" or "cp1252".') from None


def _headings(reader: MappingText, raw: dict[str, Any]) -> tuple[tuple[int, str], ...]:
    blocks = raw.get("heading", [])
    if not isinstance(blocks, list) or not all(isinstance(block, dict) for block in blocks):
        raise reader.fault("heading must be written [[heading]]", "heading", "heading")
    for block in blocks:
        reader.shaped("heading", "heading", block)
        if not {"line", "pattern"} <= block.keys() or block["line"] < 1:
            raise reader.fault("a heading needs line (from 1) and pattern", "line", "heading")
    return tuple((block["line"], reader.named_pattern(block["pattern"], "heading")) for block in blocks)


def _long(reader: MappingText, raw: dict[str, Any]) -> LongRule | None:
    table = raw.get("long")
    if table is None:
        return None
    reader.shaped("long", "long", {key: value for key, value in table.items() if key != "rows"})
    rows = table.get("rows", {})
    if not {"name", "value"} <= table.keys() or not isinstance(rows, dict) or not rows:
        raise reader.fault("long needs name, value and [long.rows]", "name", "long")
    reader.shaped("long.rows", "long.rows", rows)
    rule = LongRule(table["name"], listed(table["value"]), tuple((word, listed(columns)) for word, columns in rows.items()))
    for word, columns in rule.rows:
        if len(columns) != len(rule.values):
            raise reader.fault(f"{word} has {len(columns)} columns, value has {len(rule.values)} words", word, "long.rows")
    return rule


def _check_signs(reader: MappingText, mapping: Mapping) -> None:
    """A column's decimal sign that separates thousands elsewhere would turn 1.5 into 15."""
    for rule in mapping.columns:
        decimal = rule.decimal or mapping.decimal
        thousands = mapping.thousands if rule.thousands is None else rule.thousands
        if thousands == decimal:
            key = "decimal" if rule.decimal else "thousands"
            raise reader.fault(
                f"{decimal} cannot be the decimal sign of {rule.target} and separate thousands",
                key,
                f"columns.{rule.target}",
                f'Write thousands = "" below [columns.{rule.target}].',
            )


def _captured(mapping: Mapping) -> set[str]:
    patterns = [mapping.file_name, *(pattern for _, pattern in mapping.heading)]
    return {name for pattern in patterns for name in groups_of(pattern)}


def _check_whole(reader: MappingText, kind: FileKind, mapping: Mapping) -> None:
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
    reader = MappingText(name, text)
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
        tuple(column_rule(reader, kind, target, rule) for target, rule in raw.get("columns", {}).items()),
        **{key: raw[key] for key in _PLAIN if key in raw},
        empty=listed(raw.get("empty")),
        leave_out=listed(raw.get("leave_out")),
        ignore=tuple((column, listed(words)) for column, words in raw.get("ignore", {}).items()),
        constants=_constants(reader, kind, "constants", raw.get("constants", {})),
        file_name=reader.named_pattern(raw["file_name"].get("pattern", ""), "file_name") if "file_name" in raw else "",
        heading=_headings(reader, raw),
        session=_constants(reader, KINDS["sessions"], "session", raw.get("session", {})),
        long=_long(reader, raw),
    )
    _check_signs(reader, mapping)
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
