"""How often players come, counted by hand."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from pipelines.measures.flags.looks import share_of_looks, weight_of_shift, with_both_sums

DAY = dt.date(2026, 3, 2)


def shares(*days: int, player: str = "p1") -> pl.DataFrame:
    return pl.DataFrame({"player_id": player, "on_date": [DAY + dt.timedelta(days=day) for day in days]})


def test_it_is_told_by_the_last_twelve_sessions_of_a_player_within_a_third_and_one() -> None:
    """Twelve sessions in 56 days are 6.52 a month of 30.44 days; three a week are 13."""
    daily, fortnightly = shares(*range(14)), shares(*range(0, 14 * 14, 14), player="p2")
    mixed = shares(*range(11), 40, 56, 57, player="p3")
    found = pl.concat([daily, fortnightly, mixed]).with_columns(share=share_of_looks(("player_id",)))
    told = found["share"].to_list()
    assert told[:14] == [1.0] * 14
    assert told[14:26] == [1.0] * 12  # fewer came before
    assert told[26:28] == pytest.approx([1.0 / 3.0] * 2)
    assert told[28:40] == [1.0] * 12
    assert told[40:] == pytest.approx([12 * 365.25 / 12 / 13 / 56] * 2)


@pytest.mark.parametrize(("looks", "share"), [(1.0, 0.1), (0.5, 0.4), (1.0 / 3.0, 0.6)])
def test_either_sum_may_tell_each_over_its_share(looks: float, share: float) -> None:
    """Both are given as uniform chances: together they are as small as often as they say, at most (union bound)."""
    given = {
        "metric": "club_speed_mps",
        "looks": looks,
        "p_chart_up": 0.01,
        "p_steep_up": 0.5,
        "p_chart_down": 0.5,
        "p_steep_down": 0.001,
    }
    empty = dict.fromkeys(given)
    narrower = with_both_sums(pl.DataFrame([given | {"metric": "scatter_side_m"}]))
    assert narrower["p_chart_down"].to_list() == [0.5]
    assert narrower["p_chart_up"].to_list() == [pytest.approx(0.01 / (1.0 - share))]
    found = with_both_sums(pl.DataFrame([given, given | {"p_chart_up": 0.9, "p_steep_up": 0.9}, empty])).to_dict(as_series=False)
    assert found["p_chart_up"] == [pytest.approx(0.01 / (1.0 - share)), 1.0, None]
    assert found["p_chart_down"] == [pytest.approx(0.001 / share)] * 2 + [None]


def test_a_shift_of_one_who_comes_seldom_is_weighed_down_by_the_square_too() -> None:
    told = pl.DataFrame({"looks": [1.0, 0.7, 0.5, 0.4, 1.0 / 3.0]}).select(weight_of_shift())["looks"].to_list()
    assert told == pytest.approx([1.0, 0.7, 0.5, 0.4 * 0.64, 4.0 / 27.0])
