"""The text of a mapping: at which line a key stands, what shape its value must have, and faults that name both."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import re2

from pipelines.stages.intake.mapping_keys import allowed_keys, shape_of
from schemas.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable

_QUIET = re2.Options()
_QUIET.log_errors = False


class MappingText:
    """One mapping's text, and at which line each key stands."""

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

    def pattern(self, pattern: str, key: str, place: str) -> Any:
        """A regular expression, compiled; the engine takes time in proportion to the text."""
        try:
            return re2.compile(pattern, _QUIET)
        except re2.error as fault:
            told = fault.args[0].decode() if fault.args and isinstance(fault.args[0], bytes) else str(fault)
            raise self.fault(f"the pattern cannot be used: {told}", key, place) from fault

    def named_pattern(self, pattern: str, place: str) -> str:
        """A regular expression with named groups."""
        if not self.pattern(pattern, "pattern", place).groupindex:
            raise self.fault("the pattern has no named group", "pattern", place, "Write (?P<player_id>...) around the value.")
        return pattern


def searched(pattern: str, text: str) -> dict[str, str] | None:
    """What the named groups of a pattern find in a text; None when it does not fit."""
    match = re2.compile(pattern, _QUIET).search(text)
    return None if match is None else {name: value for name, value in match.groupdict().items() if value}


def groups_of(pattern: str) -> set[str]:
    """The names of a pattern's groups."""
    return set(re2.compile(pattern, _QUIET).groupindex) if pattern else set()


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _is_texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 1000


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


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
    "two numbers": lambda value: isinstance(value, list) and len(value) == 2 and all(map(_is_number, value)),
}
_SHAPE_WORDS = {
    "text": "text in quotation marks",
    "number": "a whole number from 0 to 999",
    "truth": "true or false",
    "texts": 'a list of texts: ["a", "b"]',
    "text or texts": 'a text or a list of texts: ["a", "b"]',
    "table": "a table",
    "words": 'a table of texts: { "1W" = "driver" }',
    "two numbers": "a list of two numbers: [1, 5]",
}


def listed(value: str | list[str] | None) -> tuple[str, ...]:
    """A text, or a list of texts, as a tuple."""
    return () if value is None else (value,) if isinstance(value, str) else tuple(value)
