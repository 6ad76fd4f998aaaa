"""academy.toml: read and checked with the line of each fault, and the commented file that a new workspace begins with."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, get_args

from pipelines.setting_list import SETTINGS, Setting
from pipelines.settings_file import (
    Place,
    Source,
    checked,
    commented,
    document_of,
    number_of,
    refuse_unknown_keys,
    refuse_unknown_zone,
    settings_text,
    text_of,
)
from schemas.academy import Academy, Access, Alerts, DayWithoutRow, ReferenceAir, Share, Times, Units
from schemas.course import DEFAULT_COURSES, Course, course_from_mapping
from schemas.errors import SettingsError
from schemas.federation import FEDERATED_NAME

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
    "times": "When `speedworth schedule` does what; read when it starts: after a change, start it anew.",
    "reference_air": "Carry is made comparable over months by restating it for this air.",
    "share": "What is shared with a federation: sums over five persons or more, never the body's.",
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


def default_settings(name: str, time_zone: str, **others: str | int | float | bool) -> str:
    """Text of a commented academy.toml; ``others`` gives the value of further keys by their name."""
    values = {"name": name, "time_zone": time_zone, **others}
    return commented("Settings of this academy.", SETTINGS, _TITLES, values, _TAIL)


def _refuse_unknown(document: dict[str, Any], source: Source) -> None:
    keys = {section: [s.key for s in SETTINGS if s.section == section] for section in _TITLES}
    for section, content in document.items():
        if section in _FREE_SECTIONS:
            continue
        if section not in keys or not isinstance(content, dict):
            allowed = ", ".join((*keys, *_FREE_SECTIONS))
            raise SettingsError(f"{Place(source, section)} is not a section.", f"Allowed: {allowed}.")
        refuse_unknown_keys(content, keys[section], Place(source, section))


def _values(document: dict[str, Any], source: Source) -> dict[str, dict[str, Any]]:
    values: dict[str, dict[str, Any]] = {section: {} for section in _TITLES}
    for setting in SETTINGS:
        given = document.get(setting.section, {})
        place = Place(source, setting.section, setting.key)
        if setting.key in given:
            values[setting.section][setting.key] = checked(setting, given[setting.key], place)
        elif setting.default is None:
            raise SettingsError(f"{FILE_NAME}: [{setting.section}] {setting.key} is missing.", setting.comment)
    return values


def _courses(document: dict[str, Any], source: Source) -> tuple[Course, ...]:
    entries = document.get("courses", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise SettingsError(f"{Place(source, 'courses')} is not a list of courses.", "Begin each course with [[courses]].")
    courses = tuple(course_from_mapping(entry) for entry in entries)
    names = [course.name for course in courses]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise SettingsError(f'{Place(source, "courses")}: two courses are called "{twice[0]}".', "Give one of them another name.")
    return courses


def _group_day_without_row(document: dict[str, Any], source: Source) -> dict[str, Any]:
    entries = document.get("day_without_row", {})
    if not isinstance(entries, dict):
        raise SettingsError(f"{Place(source, 'day_without_row')} is not a section.", "Write [day_without_row] above the groups.")
    words = Setting("day_without_row", "", 'Write "unknown" or "off".', "unknown", get_args(DayWithoutRow))
    return {group: text_of(words, value, Place(source, "day_without_row", group)) for group, value in entries.items()}


def _range_ball_factor(document: dict[str, Any], source: Source) -> dict[str, float]:
    entries = document.get("range_ball_factor", {})
    if not isinstance(entries, dict):
        raise SettingsError(
            f"{Place(source, 'range_ball_factor')} is not a section.", "Write [range_ball_factor] above the devices."
        )
    limits = Setting("range_ball_factor", "", "", 1.0, low=0.5, high=1.2)
    return {key: number_of(limits, value, Place(source, "range_ball_factor", key), whole=False) for key, value in entries.items()}


def _keep_years(document: dict[str, Any], source: Source) -> dict[str, int]:
    entries = document.get("keep_years", {})
    if not isinstance(entries, dict):
        raise SettingsError(f"{Place(source, 'keep_years')} is not a section.", "Write [keep_years] above the kinds.")
    for kind in entries:
        if kind not in KEPT_BY_YEARS:
            todo = f"Allowed: {', '.join(KEPT_BY_YEARS)}; shots go with their session, and players by `speedworth player erase`."
            raise SettingsError(f"{Place(source, 'keep_years', kind)} is not a kind that is kept by years.", todo)
    limits = Setting("keep_years", "", "", 1, low=1, high=100)
    return {kind: int(number_of(limits, value, Place(source, "keep_years", kind), whole=True)) for kind, value in entries.items()}


def _share(values: dict[str, Any], source: Source) -> Share:
    share = Share(**values)
    if share.folder and not FEDERATED_NAME.fullmatch(share.academy):
        todo = "Write a name of letters, digits, _ . - that no other academy of the federation has."
        raise SettingsError(f'{Place(source, "share", "academy")} is "{share.academy}".', todo)
    if share.first_month and not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", share.first_month):
        raise SettingsError(f'{Place(source, "share", "first_month")} is "{share.first_month}".', "Write it as 2026-03.")
    return share


def _refuse_unknown_course(chosen: str, courses: tuple[Course, ...], source: Source) -> None:
    names = [course.name for course in (*DEFAULT_COURSES, *courses)]
    if chosen not in names:
        raise SettingsError(f'{Place(source, "academy", "course")} is "{chosen}".', f"Allowed: {', '.join(names)}.")


def settings_from_text(text: str) -> Academy:
    """The settings that the text of an academy.toml holds.

    Raises
    ------
    SettingsError
        When the text is not TOML, a key is unknown or missing, or a value is not allowed; it names line and key.
    """
    document = document_of(FILE_NAME, text)
    source = Source(FILE_NAME, text)
    _refuse_unknown(document, source)
    values = _values(document, source)
    refuse_unknown_zone(values["academy"]["time_zone"], Place(source, "academy", "time_zone"))
    courses = _courses(document, source)
    _refuse_unknown_course(values["academy"].get("course", Academy.course), courses, source)
    return Academy(
        **values["academy"],
        units=Units(**values["units"]),
        access=Access(**values["access"]),
        alerts=Alerts(**values["alerts"]),
        reference_air=ReferenceAir(**values["reference_air"]),
        times=Times(**values["times"]),
        share=_share(values["share"], source),
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
    return settings_from_text(settings_text(path))
