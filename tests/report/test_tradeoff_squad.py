"""The map of the squad: every name that the sentence counts, each at its own height, and the lines of one in the middle."""

from __future__ import annotations

import itertools
from datetime import date
from typing import Any

import polars as pl
import pytest

from reports.pages.context import page_context
from reports.pages.tradeoff import _squad_map
from reports.pages.tradeoff_squad import LINE, MOST_NAMES, StrokeLines, in_the_middle, spread_out, squad_sets
from reports.words import words
from schemas.academy import Academy

EN = words("en")


def moved(number: int, scatter: float, chance: float) -> dict[str, Any]:
    return {
        "player_id": f"p{number}",
        "recent_speed_mps": 44.0 + number,
        "recent_scatter_deg": scatter,
        "change_speed_mps": 0.5,
        "change_scatter_deg": 0.2,
        "change": 0.1 * number,
        "chance_cost": chance,
        "change_low": 0.1 if chance > 0.9 else -0.2,
        "change_high": -0.1 if chance < 0.1 else 0.2,
    }


def sets(rows: list[dict[str, Any]], lines: StrokeLines | None = None) -> dict[str, pl.DataFrame]:
    return squad_sets(rows, {row["player_id"]: f"Bird {row['player_id']}" for row in rows}, 2.237, EN, lines)


def test_everybody_with_a_clear_change_is_named_though_marks_lie_on_each_other() -> None:
    rows = [moved(number, 5.0, (0.99, 0.01, 0.5)[number % 3]) for number in range(30)]
    found = sets(rows)
    named, corners = found["named"], found["frame"]["scatter"].to_list()
    assert set(named["of"]) == {row["player_id"] for row in rows if row["chance_cost"] != 0.5}
    heights = sorted((place - corners[0]) / (corners[1] - corners[0]) * 420 for place in named["place"])
    assert min(b - a for a, b in itertools.pairwise(heights)) >= LINE - 0.5
    assert heights[0] >= 0
    assert heights[-1] <= 420


def test_more_names_than_there_is_room_for_leave_the_largest_changes() -> None:
    found = sets([moved(number, 4.0 + 0.05 * number, 0.99) for number in range(60)])["named"]
    assert set(found["of"]) == {f"p{number}" for number in range(60 - MOST_NAMES, 60)}


@pytest.mark.parametrize(
    ("wanted", "placed"),
    [
        ([1.0, 5.0, 9.0], [1.0, 5.0, 9.0]),
        ([5.0, 5.0, 5.0], [5.0, 6.0, 7.0]),
        ([9.5, 9.8], [9.0, 10.0]),
        ([-3.0, 0.5], [0.0, 1.0]),
        ([], []),
    ],
)
def test_places_keep_their_order_and_their_distance(wanted: list[float], placed: list[float]) -> None:
    assert spread_out(wanted, 1.0, 0.0, 10.0) == placed


def test_the_lines_are_those_of_the_player_in_the_middle_within_the_map() -> None:
    rows = [moved(number, 4.0 + 0.5 * number, 0.5) for number in range(5)]
    assert in_the_middle(rows) == "p2"
    points = [(0.0, no, 43.0 + no, 4.5 + 0.1 * no) for no in range(5)] + [(1.0, 1, 44.2, 5.5), (2.0, 1, 44.1, 30.0)]
    lines = pl.DataFrame(points, schema=["step", "point_no", "club_speed_mps", "direction_sd_deg"], orient="row")
    found = sets(rows, StrokeLines("p2", lines))
    corners = found["frame"]
    assert set(found["lines"]["step"]) == {0.0}  # of the others one point or none lies on the map
    assert found["lines"]["speed"].is_between(*corners["speed"].to_list()).all()
    assert found["ends"]["words"].to_list() == ["same strokes"]
    assert sets(rows)["lines"].is_empty()


@pytest.mark.parametrize(("chance", "names_them"), [(0.5, False), (0.99, True)])
def test_of_nobody_it_is_not_said_that_all_are_named(chance: float, names_them: bool) -> None:
    context = page_context(Academy("Academy", "UTC"), "coach", date(2026, 6, 30))
    rows = [moved(0, 4.0, chance)]
    figure = _squad_map(rows, "open", {rows[0]["player_id"]: "Lark"}, context)
    assert (context.words("tradeoff.all_named") in figure) == names_them
