"""Courses as the strokes of a drive see them: tee shots with length, fairway, and what lies beside it on each side.

In ``academy.toml`` a course is written so, lengths in metres, everything beside the fairway counted from its edge outward; or in
yards, with ``_yd`` in place of ``_m`` (a yard is 0.9144 m, by the international agreement of 1959)::

    [[courses]]
    name = "home"
    trees_blocked_share = 0.7

    [[courses.tee_shots]]
    length_m = 382
    fairway_m = 32
    left = { trees_from_m = 8, out_of_bounds_from_m = 30 }
    right = { water_from_m = 20 }

A zone reaches outward to where the next one begins; before the first there is rough. Fourteen tee shots make a round of
a par-72 course, the par-3 holes being no drives.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from schemas.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True)
class Side:
    """What lies beyond one edge of the fairway; metres from that edge, None where there is none.

    Attributes
    ----------
    trees_from_m : float or None
        Ball among trees: often only a way out sideways.
    water_from_m : float or None
        Penalty area: one penalty stroke, dropped in the rough beside where it crossed.
    out_of_bounds_from_m : float or None
        Stroke and distance.
    """

    trees_from_m: float | None = None
    water_from_m: float | None = None
    out_of_bounds_from_m: float | None = None


@dataclass(frozen=True)
class TeeShot:
    """One tee shot with the driver.

    Attributes
    ----------
    length_m : float
        Length of the hole along its line of play.
    fairway_m : float
        Width of the fairway where drives come to rest.
    left, right : Side
    """

    length_m: float
    fairway_m: float
    left: Side = Side()
    right: Side = Side()


@dataclass(frozen=True)
class Course:
    """The tee shots of one round.

    Attributes
    ----------
    name : str
    tee_shots : tuple of TeeShot
        Those that a driver is used for.
    trees_blocked_share : float
        Share of the balls among trees that must be played out; the others count as rough.
    """

    name: str
    tee_shots: tuple[TeeShot, ...]
    trees_blocked_share: float = 0.7


def _open() -> Course:
    lengths = (348, 372, 478, 361, 395, 333, 503, 384, 352, 408, 375, 489, 366, 399)
    plain, far = Side(), Side(out_of_bounds_from_m=60.0)
    lakes = {5: Side(water_from_m=45.0), 11: Side(water_from_m=45.0)}
    return Course(
        "open",
        tuple(
            TeeShot(float(length), 38.0, left=plain, right=lakes.get(number, far if number in {2, 8} else plain))
            for number, length in enumerate(lengths)
        ),
    )


def _tree_lined() -> Course:
    lengths = (342, 368, 471, 355, 389, 327, 494, 378, 347, 401, 369, 480, 360, 392)
    trees = Side(trees_from_m=7.0)
    fenced = Side(trees_from_m=7.0, out_of_bounds_from_m=18.0)
    lake = Side(water_from_m=12.0)
    sides = ((trees, fenced), (fenced, trees), (fenced, trees), (trees, lake), (trees, fenced), (fenced, trees), (trees, fenced))
    return Course(
        "tree-lined",
        tuple(TeeShot(float(length), 30.0, *sides[number % len(sides)]) for number, length in enumerate(lengths)),
        trees_blocked_share=1.0,
    )


OPEN_COURSE = _open()
"""Wide, rough on both sides, water on two holes and out of bounds far away on two: an invented course."""

TREE_LINED_COURSE = _tree_lined()
"""Narrow, trees close on both sides, out of bounds behind them on one side of twelve holes, water on two: an invented course.

Calibrated: [BroadieKo2009], shares out of bounds at 7.9 and 5.9 degrees, by where its out of bounds begins;
tests/published/test_strokes.py::test_out_of_bounds_share_of_the_tree_lined_default is no check of it."""

YARD_M = 0.9144
"""One yard [m]; the international yard of 1959."""

DEFAULT_COURSES: tuple[Course, ...] = (OPEN_COURSE, TREE_LINED_COURSE)


_UNIT_M = {"m": 1.0, "yd": YARD_M}


def course_from_mapping(entry: Mapping[str, Any]) -> Course:
    """One course as ``academy.toml`` holds it.

    Raises
    ------
    SettingsError
        When a key is unknown, a length is missing, or a number is outside what a course can have.
    """
    name = str(entry.get("name", ""))
    where = f'academy.toml, course "{name}"'
    _known_keys(entry, Course, where)
    shots = entry.get("tee_shots", ())
    if not name or not shots:
        raise SettingsError(f"{where}: a course needs a name and tee_shots.", "Write both.")
    course = Course(
        name,
        tuple(_tee_shot(shot, f"{where}, tee shot {number}") for number, shot in enumerate(shots, start=1)),
        _within(entry.get("trees_blocked_share", 0.7), 0.0, 1.0, f"{where}: trees_blocked_share"),
    )
    if name in {built_in.name for built_in in DEFAULT_COURSES}:
        raise SettingsError(f"{where}: this name belongs to a default course.", "Choose another name.")
    return course


def _tee_shot(entry: Mapping[str, Any], where: str) -> TeeShot:
    _known_keys(entry, TeeShot, where)
    return TeeShot(
        _length_m(entry, "length", 180.0, 700.0, where),
        _length_m(entry, "fairway", 5.0, 120.0, where),
        _side(entry.get("left", {}), f"{where}, left"),
        _side(entry.get("right", {}), f"{where}, right"),
    )


def _side(entry: Mapping[str, Any], where: str) -> Side:
    _known_keys(entry, Side, where)
    named = sorted({re.sub("_(m|yd)$", "", key) for key in entry})
    return Side(**{f"{name}_m": _length_m(entry, name, 0.0, 300.0, where) for name in named})


def _length_m(entry: Mapping[str, Any], name: str, low_m: float, high_m: float, where: str) -> float:
    """A length in metres, written in metres or in yards."""
    given = [unit for unit in _UNIT_M if f"{name}_{unit}" in entry] or ["m"]
    if len(given) > 1:
        raise SettingsError(f"{where}: {name} is written in metres and in yards.", f"Leave {name}_m or {name}_yd out.")
    unit_m = _UNIT_M[given[0]]
    key = f"{name}_{given[0]}"
    return unit_m * _within(entry.get(key), round(low_m / unit_m), round(high_m / unit_m), f"{where}: {key}")


def _known_keys(entry: Mapping[str, Any], kind: type[Course | TeeShot | Side], where: str) -> None:
    names = [item.name for item in fields(kind)]
    allowed = names + [re.sub("_m$", "_yd", name) for name in names if name.endswith("_m")]
    unknown = sorted(set(entry) - set(allowed))
    if unknown:
        raise SettingsError(f"{where}: unknown key {unknown[0]}.", f"Allowed: {', '.join(allowed)}.")


def _within(value: Any, low: float, high: float, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise SettingsError(f"{where} is {value!r}.", f"Write a number from {low:g} to {high:g}.")
    return float(value)
