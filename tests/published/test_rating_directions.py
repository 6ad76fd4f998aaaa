"""Directions of two published rating forms (scales second-hand): Hooper & Mackinnon 1995 (1-7, higher worse), McLean 2010 (1-5,
higher better)."""

from __future__ import annotations

import pytest

from pipelines.measures.body.ratings import worse_is_higher


def test_sum_of_four_ratings_where_higher_is_worse() -> None:
    ratings = [worse_is_higher(value, 1, 7, higher_is_better=False) for value in (3, 2, 4, 3)]
    assert sum(ratings) == 12  # printed example, second-hand


def test_range_of_the_four_item_sum() -> None:
    assert 4 * worse_is_higher(1, 1, 7, higher_is_better=False) == 4
    assert 4 * worse_is_higher(7, 1, 7, higher_is_better=False) == 28


@pytest.mark.parametrize(("value", "turned"), [(1, 5), (2, 4), (3, 3), (5, 1)])
def test_ratings_where_higher_is_better_are_turned(value: float, turned: float) -> None:
    assert worse_is_higher(value, 1, 5, higher_is_better=True) == turned


def test_turning_twice_gives_the_rating_back() -> None:
    assert worse_is_higher(worse_is_higher(4, 1, 5, higher_is_better=True), 1, 5, higher_is_better=True) == 4


def test_outside_the_scale() -> None:
    with pytest.raises(ValueError, match="outside"):
        worse_is_higher(6, 1, 5, higher_is_better=True)
