from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from pipelines.measures.load.plan import plan_weeks, week_load

MONDAY = date(2026, 3, 2)


def days(first: date, swings: list[int | None], player: str = "p1") -> pl.DataFrame:
    rows = [
        {
            "player_id": player, "on_date": first + timedelta(days=at), "is_rest": n == 0, "swings_full": n, "swings_part": 1,
            "swings_dry": 2, "swings_all": None if n is None else n + 3, "swings_full_effort": n, "minutes": 60.0,
            "effort_min": 300.0, "holes": 9,
        }
        for at, n in enumerate(swings)
    ]  # fmt: skip
    return pl.DataFrame(rows, schema_overrides=dict.fromkeys(("swings_full", "swings_all", "swings_full_effort"), pl.Int64))


def plan(on: date, player: str = "p1") -> pl.DataFrame:
    return pl.DataFrame(
        {"player_id": [player], "week_starting": [on], "swings_full": [400], "swings_speed": [40], "minutes": [300.0]}
    )


def test_a_week_begins_on_monday_and_a_number_that_one_day_lacks_is_unknown() -> None:
    found = week_load(days(date(2026, 2, 28), [10, 20, 0, 30, None])).rows(named=True)
    assert [row["week_starting"] for row in found] == [date(2026, 2, 23), MONDAY]
    assert [row["n_days_known"] for row in found] == [2, 3]
    assert [row["n_rest_days"] for row in found] == [0, 1]
    assert [row["swings_full"] for row in found] == [30, None]
    assert [(row["swings_part"], row["swings_dry"], row["minutes"], row["effort_min"], row["holes"]) for row in found] == [
        (2, 4, 120.0, 600.0, 18),
        (3, 6, 180.0, 900.0, 27),
    ]
    assert found[0]["swings_all"] == 36


@pytest.mark.parametrize("begins", [MONDAY, MONDAY - timedelta(days=1), MONDAY + timedelta(days=3)])
def test_a_planned_week_is_seven_days_from_whatever_day_it_begins(begins: date) -> None:
    around = days(begins - timedelta(days=1), [1000, 10, 10, 10, 10, 10, 10, 10, 1000])
    row = plan_weeks(around, plan(begins)).row(0, named=True)
    assert (row["n_days_known"], row["done_swings_full"], row["done_minutes"]) == (7, 70.0, 420.0)
    assert (row["planned_swings_full"], row["planned_swings_speed"], row["planned_minutes"]) == (400, 40, 300.0)


def test_done_is_scaled_from_five_days_and_silent_below() -> None:
    assert plan_weeks(days(MONDAY, [10] * 5), plan(MONDAY))["done_swings_full"].item() == pytest.approx(70.0)
    four = plan_weeks(days(MONDAY, [10] * 4), plan(MONDAY)).row(0, named=True)
    assert (four["n_days_known"], four["done_swings_full"]) == (4, None)
    unknown = plan_weeks(days(MONDAY, [10] * 6 + [None]), plan(MONDAY)).row(0, named=True)
    assert (unknown["done_swings_full"], unknown["done_swings_full_effort"], unknown["done_minutes"]) == (None, None, 420.0)


def test_a_week_of_which_nothing_is_known_and_another_players_days() -> None:
    row = plan_weeks(days(MONDAY, [10] * 7, "p2"), plan(MONDAY)).row(0, named=True)
    assert (row["n_days_known"], row["done_swings_full"]) == (0, None)
