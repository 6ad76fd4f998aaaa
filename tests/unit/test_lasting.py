from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_kinds import CHART_RULES
from pipelines.measures.trend.lasting import FOLLOWED, lasting_differences

AS_OF = dt.date(2026, 6, 30)


def points(*levels: tuple[int, float], half: float = 0.01, **more: object) -> pl.DataFrame:
    """Points of club speed, days before ``AS_OF``; ``half``: half of the interval, as a share."""
    rows = [
        {
            "player_id": "p1",
            "club_group": "driver",
            "metric": "club_speed_mps",
            "series": "",
            "session_id": f"s{days}",
            "on_date": AS_OF - dt.timedelta(days=days),
            "state": "steady",
            "level": level,
            "level_low": level * np.exp(-half),
            "level_high": level * np.exp(half),
            "worthwhile": 1.0,
        }
        | more
        for days, level in levels
    ]
    return pl.DataFrame(rows)


def test_the_total_change_is_told_against_the_first_normal_and_a_year_ago() -> None:
    found = lasting_differences(points((600, 45.0), (380, 44.5), (100, 43.5), (3, 42.8)), AS_OF)
    assert found["against"].to_list() == ["first", "year"]
    assert found["lasts"].to_list() == [True, True]
    assert found["change"].to_list() == pytest.approx([100 * np.log(42.8 / 45.0), 100 * np.log(42.8 / 44.5)])
    first = found.row(0, named=True)
    assert first["change_high"] - first["change"] == pytest.approx(np.hypot(1.0, 1.0))
    assert (first["n_then"], first["n_now"]) == (1, 1)
    assert (first["then_on"], first["now_on"]) == (AS_OF - dt.timedelta(days=600), AS_OF - dt.timedelta(days=3))
    with_shots = points((600, 45.0), (380, 44.5), (100, 43.5), (3, 42.8), n=40)
    assert lasting_differences(with_shots, AS_OF).equals(found), "the shots of a point are no sessions"


def test_the_sessions_behind_the_first_normal_are_those_in_which_it_was_learned_too() -> None:
    learned = points((660, 44.8), (640, 45.2), (720, 44.0), state="learning")  # the last more than twelve weeks before
    found = lasting_differences(pl.concat([learned, points((600, 45.0), (100, 43.5), (3, 42.8))]), AS_OF)
    assert found.select("against", "n_then", "n_now").rows()[0] == ("first", 3, 1)
    assert found["then_on"][0] == AS_OF - dt.timedelta(days=600)


def test_the_order_in_which_points_are_read_changes_nothing() -> None:
    days = [(days, 45.0 + days / 300.0) for days in range(3, 700, 4)]
    twice = points(*days).with_columns(pl.col("session_id") + "b", pl.col("level") + 0.1)  # two sessions on each day
    rows = pl.concat([points(*days), twice])
    found = lasting_differences(rows.sort("on_date", "session_id"), AS_OF)
    assert found["now_level"].to_list() == pytest.approx([45.11, 45.11])
    assert found["then_on"].to_list() == [AS_OF - dt.timedelta(days=699), AS_OF - dt.timedelta(days=371)]
    assert all(lasting_differences(rows.sample(fraction=1.0, shuffle=True, seed=seed), AS_OF).equals(found) for seed in range(3))


@pytest.mark.parametrize(
    "found",
    [
        points((400, 45.0), (3, 44.0), half=0.02),  # the interval holds 0
        points((400, 45.0), (3, 44.7), half=0.001),  # sure, and not worth while
    ],
)
def test_what_is_open_or_small_does_not_last(found: pl.DataFrame) -> None:
    assert not lasting_differences(found, AS_OF)["lasts"].any()


def test_what_is_learned_old_or_near_is_not_compared() -> None:
    assert lasting_differences(points((400, 45.0), (3, 40.0), state="learning"), AS_OF).is_empty()
    assert lasting_differences(points((600, 45.0), (90, 40.0)), AS_OF).is_empty()
    assert lasting_differences(points((60, 45.0), (3, 40.0)), AS_OF).is_empty()
    assert lasting_differences(points((400, 45.0), (3, 40.0), series="bay-9"), AS_OF).is_empty()


def in_points(metric: str, *levels: tuple[int, float, float, float]) -> pl.DataFrame:
    """Points of a share or an angle: days before, level and its interval; 4 % or 1 degree is worth while."""
    return pl.concat(
        [
            points((days, level), metric=metric, level_low=low, level_high=high, worthwhile=4.0 if metric == "wild_pct" else 1.0)
            for days, level, low, high in levels
        ]
    )


def test_shares_and_angles_are_told_by_their_difference() -> None:
    """What was none at all has no logarithm, and its interval is cut at none: the longer side of it counts."""
    found = lasting_differences(in_points("wild_pct", (400, 0.0, 0.0, 3.0), (3, 9.0, 5.0, 13.0)), AS_OF).row(0, named=True)
    assert (found["change"], found["change_low"], found["change_high"], found["lasts"]) == (9.0, 4.0, 14.0, True)
    aim = in_points("aim_deg", (400, -1.5, -2.1, -0.9), (3, 1.5, 0.7, 2.3))
    found = lasting_differences(aim, AS_OF).row(0, named=True)
    assert (found["change"], found["lasts"]) == (3.0, True)
    assert (found["change_low"], found["change_high"]) == pytest.approx((2.0, 4.0))
    assert not lasting_differences(in_points("wild_pct", (400, 2.0, 1.0, 3.0), (3, 5.0, 4.5, 5.5)), AS_OF)["lasts"].any()


def test_every_quantity_of_which_a_flag_may_close_as_lasting_is_listed() -> None:
    assert {metric for rule in CHART_RULES for metric in rule.metrics} == set(FOLLOWED)
