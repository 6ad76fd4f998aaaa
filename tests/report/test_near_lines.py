"""The trade-off map shows what lies around the player's path, and its lines run from edge to edge."""

from __future__ import annotations

import pytest

from reports.pages.tradeoff_figure import _frame, _near, shown_steps


def test_the_map_reaches_three_mph_and_two_degrees_around_the_path() -> None:
    speeds, scatters = zip(*_frame(1 / 0.44704, [], [(105.0, 1.5), (112.0, 7.5)]), strict=True)
    assert speeds == pytest.approx((102.0, 115.0), abs=0.01)
    assert scatters == (0.0, 9.5)  # never below no scatter at all


def test_the_map_reaches_what_was_tried_though_it_lies_far_from_the_path() -> None:
    """Else the mark would be cut in half at the edge of the map."""
    frame = _frame(1 / 0.44704, [(115.1, 5.0), (110.0, 12.0)], [(105.0, 3.5), (112.0, 7.5)])
    speeds, scatters = zip(*frame, strict=True)
    assert speeds == pytest.approx((102.0, 115.44), abs=0.01)
    assert scatters == (1.5, 12.3)


def test_lines_are_cut_at_the_edges_and_not_at_their_points() -> None:
    lines = {0.0: [(90.0, 2.0), (120.0, 5.0)], 1.0: [(90.0, 22.0), (120.0, 25.0)]}
    near = _near(lines, [(100.0, 0.0), (110.0, 10.0)])
    assert list(near) == [0.0]
    assert (near[0.0][0][0], near[0.0][-1][0]) == (100.0, 110.0)
    assert [scatter for _, scatter in near[0.0]] == pytest.approx([speed / 10 - 7 for speed, _ in near[0.0]], abs=0.001)


@pytest.mark.parametrize(
    ("steps", "shown"),
    [
        ((0.5, 0.0, -0.5, 1.0), {0.5, 0.0, -0.5, 1.0}),
        ([step / 2 for step in range(-6, 7)], {-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0}),
        ([step / 2 for step in range(-14, 15)], {-6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0}),
    ],
)
def test_lines_that_would_crowd_the_map_are_left_out(steps: list[float], shown: set[float]) -> None:
    assert shown_steps(steps) == shown
