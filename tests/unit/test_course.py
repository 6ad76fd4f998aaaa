"""Courses as academy.toml holds them."""

from __future__ import annotations

from typing import Any

import pytest

from pipelines.measures.strokes.zones import FAIRWAY, OUT, ROUGH, TREES, WATER, course_layouts
from schemas.course import DEFAULT_COURSES, OPEN_COURSE, TREE_LINED_COURSE, Course, Side, TeeShot, course_from_mapping
from schemas.errors import SettingsError

HOLE: dict[str, Any] = {
    "length_m": 380,
    "fairway_m": 30.0,
    "left": {"trees_from_m": 8, "out_of_bounds_from_m": 30},
    "right": {"water_from_m": 0},
}


def test_a_course_comes_out_as_it_was_written() -> None:
    course = course_from_mapping({"name": "home", "tee_shots": [HOLE, {"length_m": 400, "fairway_m": 35}]})
    assert course == Course(
        "home",
        (
            TeeShot(380.0, 30.0, Side(trees_from_m=8.0, out_of_bounds_from_m=30.0), Side(water_from_m=0.0)),
            TeeShot(400.0, 35.0),
        ),
    )


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"name": "home"}, "tee_shots"),
        ({"tee_shots": [HOLE]}, "name"),
        ({"name": "open", "tee_shots": [HOLE]}, "default course"),
        ({"name": "home", "tee_shots": [HOLE | {"length_m": "380"}]}, "tee shot 1: length_m"),
        ({"name": "home", "tee_shots": [HOLE | {"length_m": 1500}]}, "180 to 700"),
        ({"name": "home", "tee_shots": [HOLE | {"bunkers": 3}]}, "unknown key bunkers"),
        ({"name": "home", "tee_shots": [HOLE | {"left": {"trees": 3}}]}, "left: unknown key trees"),
        ({"name": "home", "tee_shots": [HOLE], "trees_blocked_share": 2}, "trees_blocked_share"),
        ({"name": "home", "tee_shots": [HOLE | {"fairway_m": True}]}, "fairway_m"),
    ],
)
def test_a_fault_is_named_with_its_place(entry: dict[str, Any], words: str) -> None:
    with pytest.raises(SettingsError, match=words):
        course_from_mapping(entry)


def test_zones_run_from_far_left_to_far_right() -> None:
    layout = course_layouts(course_from_mapping({"name": "home", "tee_shots": [HOLE]}))[0]
    assert layout.zones == (OUT, TREES, ROUGH, FAIRWAY, WATER)
    assert layout.edges_m.tolist() == [-45.0, -23.0, -15.0, 15.0]


def test_holes_that_look_alike_share_a_layout() -> None:
    for course in DEFAULT_COURSES:
        layouts = course_layouts(course)
        assert len(layouts) < len(course.tee_shots) == 14
        assert sorted(hole for layout in layouts for hole in layout.holes) == list(range(14))
    assert OPEN_COURSE.tee_shots[0].fairway_m > TREE_LINED_COURSE.tee_shots[0].fairway_m


def test_a_course_in_yards_is_the_same_course() -> None:
    yards = {
        "length_yd": 400,
        "fairway_yd": 35,
        "left": {"trees_from_yd": 8, "out_of_bounds_from_m": 30},
        "right": {"water_from_yd": 0},
    }
    shot = course_from_mapping({"name": "home", "tee_shots": [yards]}).tee_shots[0]
    assert shot.length_m == pytest.approx(365.76)  # 400 international yards: 1 yd = 0.9144 m (agreement of 1959), read
    assert shot.fairway_m == pytest.approx(32.004)
    assert shot.left == Side(trees_from_m=pytest.approx(7.3152), out_of_bounds_from_m=30.0)  # type: ignore[arg-type]
    assert shot.right == Side(water_from_m=0.0)


@pytest.mark.parametrize(
    ("hole", "words"),
    [
        ({"length_yd": 100, "fairway_m": 30}, "length_yd is 100. Write a number from 197 to 766"),
        ({"length_yd": 400, "length_m": 366, "fairway_m": 30}, "length is written in metres and in yards"),
        ({"length_yd": 400, "fairway_m": 30, "left": {"trees_from_ft": 3}}, "unknown key trees_from_ft"),
    ],
)
def test_a_fault_in_yards_is_told_in_yards(hole: dict[str, Any], words: str) -> None:
    with pytest.raises(SettingsError) as fault:
        course_from_mapping({"name": "home", "tee_shots": [hole]})
    assert words in f"{fault.value.what} {fault.value.todo}"
