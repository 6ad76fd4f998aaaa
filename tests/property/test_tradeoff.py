"""Break-even and lines of equal strokes: they lie where strokes are equal."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.strokes import DrivePattern, expected_strokes
from pipelines.measures.tradeoff import SpeedScale, at_speed, scatter_price_deg, speed_price_mps, stroke_lines, surface
from schemas.course import DEFAULT_COURSES, OPEN_COURSE, TREE_LINED_COURSE, Course, TeeShot

SCALE = SpeedScale(45.0, 5.5)
courses = st.sampled_from(DEFAULT_COURSES)


def pattern(total: float, scatter: float) -> DrivePattern:
    return DrivePattern(total, 0.0, 12.0, scatter, mishit_rate=0.03)


@settings(max_examples=8, deadline=None)
@given(st.floats(190.0, 265.0), st.floats(3.0, 7.5), courses)
def test_strokes_are_even_at_the_break_even(total: float, scatter: float, course: Course) -> None:
    drives = pattern(total, scatter)
    now = expected_strokes(drives, course).per_round
    more = scatter_price_deg([(drives, SCALE)], course, "80", 0.9)[0]
    less = speed_price_mps([(drives, SCALE)], course, "80", 0.5)[0]
    assert more is not None
    assert less is not None
    assert expected_strokes(at_speed(drives, SCALE, 45.9, scatter + more), course).per_round == pytest.approx(now, abs=2e-3)
    assert expected_strokes(at_speed(drives, SCALE, 45.0 - less, scatter - 0.5), course).per_round == pytest.approx(now, abs=2e-3)


@settings(max_examples=8, deadline=None)
@given(st.floats(190.0, 265.0), st.floats(3.0, 7.5))
def test_trees_make_speed_cheap_and_scatter_dear(total: float, scatter: float) -> None:
    drives = [(pattern(total, scatter), SCALE)]
    in_trees, in_open = (scatter_price_deg(drives, course, "80", 0.9)[0] for course in (TREE_LINED_COURSE, OPEN_COURSE))
    assert in_trees is not None
    assert in_open is not None
    assert in_trees < in_open


@pytest.mark.parametrize("course", DEFAULT_COURSES, ids=lambda course: course.name)
def test_lines_of_equal_strokes_hold_their_strokes(course: Course) -> None:
    drives = pattern(228.0, 5.0)
    field = surface(drives, SCALE, course, "80", np.linspace(41.0, 49.0, 9), np.linspace(2.5, 9.0, 14))
    here = field.at(45.0, 5.0)
    assert here == pytest.approx(expected_strokes(drives, course).per_round, abs=0.02)
    lines = stroke_lines(field, here, np.arange(-2.0, 2.5, 1.0))
    assert len(lines) >= 3
    for line in lines:
        speed, scatter = line.club_speed_mps[1], line.scatter_deg[1]
        exact = expected_strokes(at_speed(drives, SCALE, float(speed), float(scatter)), course).per_round
        assert exact == pytest.approx(here + line.strokes, abs=0.05)
        assert (np.diff(line.scatter_deg) > -1e-9).all()  # faster players may scatter more for the same strokes
    assert field.at(60.0, 5.0) is None


def test_prices_near_and_far_are_even_and_the_same_beside_others() -> None:
    """Nearly all lie within an eighth of the widest that is looked at; these are asked together, and each alone."""
    players = [(pattern(total, scatter), SCALE) for total, scatter in ((250.0, 3.0), (205.0, 7.5), (230.0, 5.0), (262.0, 1.0))]
    asked = [(OPEN_COURSE, 2.5, 3.0, (9, 0)), (TREE_LINED_COURSE, 4.0, 4.0, (0, 7)), (TREE_LINED_COURSE, 0.9, 0.5, (0, 1))]
    for course, gain, reduction, further_than in asked:
        more, less = scatter_price_deg(players, course, "80", gain), speed_price_mps(players, course, "80", reduction)
        assert more == [scatter_price_deg([player], course, "80", gain)[0] for player in players]
        assert less == [speed_price_mps([player], course, "80", reduction)[0] for player in players]
        assert max(more) > further_than[0]
        assert max(less) > further_than[1]
        for (drives, _), wider, slower in zip(players, more, less, strict=True):
            steadier = max(drives.direction_sd_deg - reduction, 0.1 * drives.direction_sd_deg)
            even = [
                at_speed(drives, SCALE, SCALE.club_speed_mps + gain, drives.direction_sd_deg + wider),
                at_speed(drives, SCALE, SCALE.club_speed_mps - slower, steadier),
            ]
            now = expected_strokes(drives, course).per_round
            assert [expected_strokes(one, course).per_round for one in even] == pytest.approx([now, now], abs=2e-3)


def test_no_price_uses_up_a_gain_without_trouble() -> None:
    nowhere = Course("meadow", tuple(TeeShot(shot.length_m, 300.0) for shot in OPEN_COURSE.tee_shots))
    assert scatter_price_deg([(pattern(230.0, 3.0), SCALE)], nowhere, "80", 3.0) == [None]
