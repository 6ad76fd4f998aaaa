"""The trade-off map shows what lies around the player's path, and its lines run from edge to edge."""

from __future__ import annotations

import polars as pl
import pytest

from reports.pages.tradeoff_figure import _frame, _near

NONE = pl.DataFrame(schema={"speed": pl.Float64, "scatter": pl.Float64})


def test_the_map_reaches_three_mph_and_two_degrees_around_the_path() -> None:
    path = pl.DataFrame({"speed": [105.0, 112.0], "scatter": [1.5, 7.5]})
    frame = _frame(1 / 0.44704, NONE, path)
    assert frame["speed"].to_list() == pytest.approx([102.0, 115.0], abs=0.01)
    assert frame["scatter"].to_list() == [0.0, 9.5]  # never below no scatter at all


def test_the_map_reaches_what_was_tried_though_it_lies_far_from_the_path() -> None:
    """Else the mark would be cut in half at the edge of the map."""
    path = pl.DataFrame({"speed": [105.0, 112.0], "scatter": [3.5, 7.5]})
    tried = pl.DataFrame({"speed": [115.1, 110.0], "scatter": [5.0, 12.0]})
    frame = _frame(1 / 0.44704, tried, path)
    assert frame["speed"].to_list() == pytest.approx([102.0, 115.44], abs=0.01)
    assert frame["scatter"].to_list() == [1.5, 12.3]


def test_lines_are_cut_at_the_edges_and_not_at_their_points() -> None:
    lines = pl.DataFrame({"speed": [90.0, 120.0, 120.0, 90.0], "scatter": [2.0, 5.0, 25.0, 22.0], "step": [0.0, 0.0, 1.0, 1.0]})
    frame = pl.DataFrame({"speed": [100.0, 110.0], "scatter": [0.0, 10.0]})
    near = _near(lines.with_columns(kind=pl.lit("same")), frame)
    assert near["step"].unique().to_list() == [0.0]
    assert (near["speed"][0], near["speed"][-1]) == (100.0, 110.0)
    assert near["scatter"].to_list() == pytest.approx((near["speed"] / 10 - 7).to_list(), abs=0.001)
