"""What academy.toml and federation.toml have in common: values are checked, and each fault names file, line and key."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from pipelines.setting_list import CLOCK, Setting
from schemas.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping
    from pathlib import Path


def toml_text(value: str | int | float | bool) -> str:
    """A value as it is written in TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")  # as in TOML but for this one sign
    return f"{value:g}"


def commented(about: str, settings: Iterable[Setting], titles: Mapping[str, str], values: Mapping[str, Any], tail: str) -> str:
    """Text of a settings file in which every key stands with its comment, and with its default where ``values`` says no other."""
    lines = [f"# {about} Every key has its default; a key that is left out has it too."]
    section = ""
    for setting in settings:
        if setting.section != section:
            section = setting.section
            lines += ["", f"# {titles[section]}", f"[{section}]"]
        value = values.get(setting.key, setting.default)
        lines += [f"# {setting.comment}", f"{setting.key} = {toml_text(value if value is not None else '')}"]
    return "\n".join(lines) + "\n" + tail


class Source:
    """The text of a file and its name, to find the line of a key."""

    def __init__(self, name: str, text: str) -> None:
        self.name = name
        self._lines = text.splitlines()

    def line(self, section: str, key: str = "", nth: int = 1) -> int | None:
        """Number of the line at which a key stands, or its section begins; ``nth``: of several sections of one name."""
        inside, n_seen = False, 0
        for number, text in enumerate(self._lines, start=1):
            header = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]", text)
            if header:
                n_seen += header[1] == section
                inside = header[1] == section and n_seen == nth
                if inside and not key:
                    return number
            elif inside and re.match(rf"""\s*["']?{re.escape(key)}["']?\s*=""", text):
                return number
        return None


@dataclass(frozen=True)
class Place:
    """Where in the file a value stands, for messages."""

    source: Source
    section: str
    key: str = ""
    nth: int = 1

    def __str__(self) -> str:
        number = self.source.line(self.section, self.key, self.nth) or self.source.line(self.section, nth=self.nth)
        at = f", line {number}" if number else ""
        return f"{self.source.name}{at}: [{self.section}]{' ' + self.key if self.key else ''}"


def checked(setting: Setting, value: Any, place: Place) -> str | int | float | bool:
    """The value, when the setting allows it.

    Raises
    ------
    SettingsError
    """
    wanted = str if setting.default is None else type(setting.default)
    if wanted is bool and not isinstance(value, bool):
        raise SettingsError(f"{place} is {value!r}.", "Write true or false.")
    if wanted is str:
        return text_of(setting, value, place)
    return bool(value) if wanted is bool else number_of(setting, value, place, whole=wanted is int)


def text_of(setting: Setting, value: Any, place: Place) -> str:
    """The text, when the setting allows it; empty only where that is the default."""
    if not isinstance(value, str):
        raise SettingsError(f"{place} is {value!r}.", "Write text in quotes.")
    if setting.allowed and value not in setting.allowed:
        allowed = 'a time from 00:00 to 23:59, or "off"' if setting.allowed is CLOCK else ", ".join(setting.allowed)
        raise SettingsError(f'{place} is "{value}".', f"Allowed: {allowed}.")
    if not value.strip() and setting.default != "":
        raise SettingsError(f"{place} is empty.", setting.comment)
    return value


def number_of(setting: Setting, value: Any, place: Place, *, whole: bool) -> int | float:
    """The number, when it lies within the setting's limits."""
    fits = isinstance(value, int if whole else int | float) and not isinstance(value, bool)
    if not fits or not setting.low <= value <= setting.high:
        what = "a whole number" if whole else "a number"
        raise SettingsError(f"{place} is {value!r}.", f"Write {what} from {setting.low:g} to {setting.high:g}.")
    return int(value) if whole else float(value)


def refuse_unknown_keys(content: Iterable[str], allowed: Collection[str], place: Place) -> None:
    """Raise where a section, or one of several of its name, holds a key that is no setting."""
    for key in content:
        if key not in allowed:
            at = replace(place, key=key)
            raise SettingsError(f"{at} is not a setting.", f"Allowed: {', '.join(allowed)}.")


@cache
def _time_zones() -> frozenset[str]:
    from zoneinfo import available_timezones  # noqa: PLC0415 - reads hundreds of files; only settings need it

    return frozenset(available_timezones())


def refuse_unknown_zone(zone: str, place: Place) -> None:
    """Raise unless there is a time zone of that name."""
    if zone not in _time_zones():
        raise SettingsError(f'{place} is "{zone}".', 'Write an IANA name, e.g. "Europe/Berlin", "America/New_York" or "UTC".')


def document_of(name: str, text: str) -> dict[str, Any]:
    """What the text of a settings file holds, before anything of it is checked.

    Raises
    ------
    SettingsError
        When it is not TOML.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        told = str(fault).replace("Cannot overwrite a value", "The key stands there twice")
        raise SettingsError(
            f"{name} cannot be read: {told}.", "Text stands in straight quotes, decimals have a point; one key = value a line."
        ) from fault


def settings_text(path: Path) -> str:
    """Text of a settings file.

    Raises
    ------
    SettingsError
        When it cannot be read.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as fault:
        line = fault.object.count(b"\n", 0, fault.start) + 1
        raise SettingsError(f"{path}, line {line}: a letter that is not written in UTF-8.", "Save the file as UTF-8.") from fault
    except OSError as fault:
        raise SettingsError(f"{path} cannot be read: {fault}.", "Check its permissions.") from fault
