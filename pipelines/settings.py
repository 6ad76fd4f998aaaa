"""academy.toml: read and checked with the line of each fault, and the commented file that a new workspace begins with."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, get_args

from pipelines.setting_list import CLOCK, SETTINGS, Setting
from schemas.academy import Academy, Access, Alerts, DayWithoutRow, ReferenceAir, Times, Units
from schemas.course import DEFAULT_COURSES, Course, course_from_mapping
from schemas.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

FILE_NAME = "academy.toml"


_FREE_SECTIONS = ("day_without_row", "range_ball_factor", "courses", "keep_years")
KEPT_BY_YEARS = ("sessions", "checkins", "problems", "absences", "plans", "mobility", "rounds", "changes", "decisions")
"""Kinds of which old rows can be left out; shots go with their session."""

_TITLES = {
    "academy": "The academy.",
    "units": "Units on pages. Files and the warehouse are in SI units.",
    "access": "Who may see what. The coach never sees answers about the body.",
    "alerts": "How many alerts can be answered.",
    "times": "When `speedworth schedule` does what.",
    "reference_air": "Carry is made comparable over months by restating it for this air.",
}

_TAIL = """
# The same for the players of a group, where it differs: "unknown" or "off". Of several groups of a player the first in the
# players file that stands here decides.
[day_without_row]
# "U16" = "off"

# Carry of this device's range balls over carry of a premium ball, where it is known: 0.5 to 1.2. Without it, it is learned.
[range_ball_factor]
# "bay-3" = 0.94

# How many whole years rows are kept, by kind: sessions (with their shots), checkins, problems, absences, plans, mobility, rounds,
# changes, decisions. Older ones go each week, for good. What is not named here is kept until somebody erases it.
[keep_years]
# checkins = 3

# Courses of your own, beside "open" and "tree-lined", one [[courses]] for each: every tee shot that a driver is used for, lengths
# in metres (length_m, fairway_m, trees_from_m) or yards (length_yd, fairway_yd, trees_from_yd); trees, water and out of bounds
# counted from the edge of the fairway outward.
# [[courses]]
# name = "home"
# trees_blocked_share = 0.7      # share of balls among trees that must be played out sideways
# [[courses.tee_shots]]
# length_m = 382
# fairway_m = 32
# left = { trees_from_m = 8, out_of_bounds_from_m = 30 }
# right = { water_from_m = 20 }
"""


def _toml(value: str | int | float | bool) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return f"{value:g}"


def default_settings(name: str, time_zone: str, **others: str | int | float | bool) -> str:
    """Text of a commented academy.toml; ``others`` gives the value of further keys by their name."""
    values = {"name": name, "time_zone": time_zone, **others}
    lines = ["# Settings of this academy. Every key has its default; a key that is left out has it too."]
    section = ""
    for setting in SETTINGS:
        if setting.section != section:
            section = setting.section
            lines += ["", f"# {_TITLES[section]}", f"[{section}]"]
        value = values.get(setting.key, setting.default)
        lines += [f"# {setting.comment}", f"{setting.key} = {_toml(value if value is not None else '')}"]
    return "\n".join(lines) + "\n" + _TAIL


class _Source:
    """The text of the file, to find the line of a key."""

    def __init__(self, text: str) -> None:
        self._lines = text.splitlines()

    def line(self, section: str, key: str = "") -> int | None:
        inside = False
        for number, text in enumerate(self._lines, start=1):
            header = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]", text)
            if header:
                inside = header[1] == section
                if inside and not key:
                    return number
            elif inside and re.match(rf"""\s*["']?{re.escape(key)}["']?\s*=""", text):
                return number
        return None


@dataclass(frozen=True)
class _Place:
    """Where in the file a value stands, for messages."""

    source: _Source
    section: str
    key: str = ""

    def __str__(self) -> str:
        number = self.source.line(self.section, self.key)
        at = f", line {number}" if number else ""
        return f"{FILE_NAME}{at}: [{self.section}]{' ' + self.key if self.key else ''}"


def _checked(setting: Setting, value: Any, place: _Place) -> str | int | float | bool:
    wanted = str if setting.default is None else type(setting.default)
    if wanted is bool and not isinstance(value, bool):
        raise SettingsError(f"{place} is {value!r}.", "Write true or false.")
    if wanted is str:
        return _text(setting, value, place)
    return bool(value) if wanted is bool else _number(setting, value, place, whole=wanted is int)


def _text(setting: Setting, value: Any, place: _Place) -> str:
    if not isinstance(value, str):
        raise SettingsError(f"{place} is {value!r}.", "Write text in quotes.")
    if setting.allowed and value not in setting.allowed:
        allowed = 'a time from 00:00 to 23:59, or "off"' if setting.allowed is CLOCK else ", ".join(setting.allowed)
        raise SettingsError(f'{place} is "{value}".', f"Allowed: {allowed}.")
    if not value.strip():
        raise SettingsError(f"{place} is empty.", setting.comment)
    return value


def _number(setting: Setting, value: Any, place: _Place, *, whole: bool) -> int | float:
    fits = isinstance(value, int if whole else int | float) and not isinstance(value, bool)
    if not fits or not setting.low <= value <= setting.high:
        what = "a whole number" if whole else "a number"
        raise SettingsError(f"{place} is {value!r}.", f"Write {what} from {setting.low:g} to {setting.high:g}.")
    return int(value) if whole else float(value)


def _refuse_unknown(document: dict[str, Any], source: _Source) -> None:
    keys = {section: [s.key for s in SETTINGS if s.section == section] for section in _TITLES}
    for section, content in document.items():
        if section in _FREE_SECTIONS:
            continue
        if section not in keys or not isinstance(content, dict):
            allowed = ", ".join((*keys, *_FREE_SECTIONS))
            raise SettingsError(f"{_Place(source, section)} is not a section.", f"Allowed: {allowed}.")
        for key in content:
            if key not in keys[section]:
                raise SettingsError(f"{_Place(source, section, key)} is not a setting.", f"Allowed: {', '.join(keys[section])}.")


def _values(document: dict[str, Any], source: _Source) -> dict[str, dict[str, Any]]:
    values: dict[str, dict[str, Any]] = {section: {} for section in _TITLES}
    for setting in SETTINGS:
        given = document.get(setting.section, {})
        place = _Place(source, setting.section, setting.key)
        if setting.key in given:
            values[setting.section][setting.key] = _checked(setting, given[setting.key], place)
        elif setting.default is None:
            raise SettingsError(f"{FILE_NAME}: [{setting.section}] {setting.key} is missing.", setting.comment)
    return values


@cache
def _time_zones() -> frozenset[str]:
    from zoneinfo import available_timezones  # noqa: PLC0415 - reads hundreds of files; only settings need it

    return frozenset(available_timezones())


def _refuse_unknown_zone(zone: str, source: _Source) -> None:
    if zone not in _time_zones():
        place = _Place(source, "academy", "time_zone")
        raise SettingsError(f'{place} is "{zone}".', 'Write an IANA name, e.g. "Europe/Berlin", "America/New_York" or "UTC".')


def _courses(document: dict[str, Any], source: _Source) -> tuple[Course, ...]:
    entries = document.get("courses", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise SettingsError(f"{_Place(source, 'courses')} is not a list of courses.", "Begin each course with [[courses]].")
    courses = tuple(course_from_mapping(entry) for entry in entries)
    names = [course.name for course in courses]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise SettingsError(
            f'{_Place(source, "courses")}: two courses are called "{twice[0]}".', "Give one of them another name."
        )
    return courses


def _group_day_without_row(document: dict[str, Any], source: _Source) -> dict[str, Any]:
    entries = document.get("day_without_row", {})
    if not isinstance(entries, dict):
        raise SettingsError(f"{_Place(source, 'day_without_row')} is not a section.", "Write [day_without_row] above the groups.")
    words = Setting("day_without_row", "", 'Write "unknown" or "off".', "unknown", get_args(DayWithoutRow))
    return {group: _text(words, value, _Place(source, "day_without_row", group)) for group, value in entries.items()}


def _range_ball_factor(document: dict[str, Any], source: _Source) -> dict[str, float]:
    entries = document.get("range_ball_factor", {})
    if not isinstance(entries, dict):
        raise SettingsError(
            f"{_Place(source, 'range_ball_factor')} is not a section.", "Write [range_ball_factor] above the devices."
        )
    limits = Setting("range_ball_factor", "", "", 1.0, low=0.5, high=1.2)
    return {key: _number(limits, value, _Place(source, "range_ball_factor", key), whole=False) for key, value in entries.items()}


def _keep_years(document: dict[str, Any], source: _Source) -> dict[str, int]:
    entries = document.get("keep_years", {})
    if not isinstance(entries, dict):
        raise SettingsError(f"{_Place(source, 'keep_years')} is not a section.", "Write [keep_years] above the kinds.")
    for kind in entries:
        if kind not in KEPT_BY_YEARS:
            todo = f"Allowed: {', '.join(KEPT_BY_YEARS)}; shots go with their session, and players by `speedworth player erase`."
            raise SettingsError(f"{_Place(source, 'keep_years', kind)} is not a kind that is kept by years.", todo)
    limits = Setting("keep_years", "", "", 1, low=1, high=100)
    return {kind: int(_number(limits, value, _Place(source, "keep_years", kind), whole=True)) for kind, value in entries.items()}


def _refuse_unknown_course(chosen: str, courses: tuple[Course, ...], source: _Source) -> None:
    names = [course.name for course in (*DEFAULT_COURSES, *courses)]
    if chosen not in names:
        raise SettingsError(f'{_Place(source, "academy", "course")} is "{chosen}".', f"Allowed: {', '.join(names)}.")


def settings_from_text(text: str) -> Academy:
    """The settings that the text of an academy.toml holds.

    Raises
    ------
    SettingsError
        When the text is not TOML, a key is unknown or missing, or a value is not allowed; it names line and key.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise SettingsError(f"{FILE_NAME} cannot be read: {fault}.", "Text stands in quotes; one key = value a line.") from fault
    source = _Source(text)
    _refuse_unknown(document, source)
    values = _values(document, source)
    _refuse_unknown_zone(values["academy"]["time_zone"], source)
    courses = _courses(document, source)
    _refuse_unknown_course(values["academy"].get("course", Academy.course), courses, source)
    return Academy(
        **values["academy"],
        units=Units(**values["units"]),
        access=Access(**values["access"]),
        alerts=Alerts(**values["alerts"]),
        reference_air=ReferenceAir(**values["reference_air"]),
        times=Times(**values["times"]),
        courses=courses,
        group_day_without_row=_group_day_without_row(document, source),
        range_ball_factor=_range_ball_factor(document, source),
        keep_years=_keep_years(document, source),
    )


def read_settings(path: Path) -> Academy:
    """The settings in the file at ``path``.

    Raises
    ------
    SettingsError
        When the file cannot be read or used as written.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise SettingsError(f"{path} cannot be read: {fault}.", "It is a text file in UTF-8; check its permissions.") from fault
    return settings_from_text(text)
