from __future__ import annotations

import datetime as dt

import polars as pl

from pipelines.measures.flags.order_rules import plan_candidates, quiet_candidates

MONDAY = dt.date(2026, 3, 2)
PLAYERS = pl.DataFrame({"player_id": ["p1"], "left_on": [None]}, schema={"player_id": pl.String, "left_on": pl.Date})
ABSENCES = {"player_id": pl.String, "began_on": pl.Date, "ended_on": pl.Date}


def weeks(*done: float) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "player_id": "p1",
            "week_starting": [MONDAY + dt.timedelta(weeks=number) for number in range(len(done))],
            "planned": 100.0,
            "done": list(done),
        }
    )


def signs(*offsets: int) -> pl.DataFrame:
    return pl.DataFrame({"player_id": "p1", "on_date": [MONDAY + dt.timedelta(days=offset) for offset in offsets]})


def quiet(days: pl.DataFrame, until: int, absences: list[tuple[str, dt.date, dt.date | None]] | None = None) -> pl.DataFrame:
    away = pl.DataFrame(absences or [], schema=ABSENCES, orient="row")
    return quiet_candidates(days, away, PLAYERS, 10, MONDAY + dt.timedelta(days=until))


def test_two_of_three_weeks_far_below_the_plan_open_on_the_sunday() -> None:
    said = plan_candidates(weeks(50, 100, 40))
    opened = said.filter(pl.col("opens"))
    assert opened["on_date"].to_list() == [MONDAY + dt.timedelta(days=20)]
    assert opened["value"].to_list() == [40.0]


def test_one_bad_week_or_two_on_different_sides_do_not() -> None:
    assert not plan_candidates(weeks(100, 40, 100))["opens"].any()
    assert not plan_candidates(weeks(40, 200, 100))["opens"].any()


def test_a_week_close_to_the_plan_closes() -> None:
    said = plan_candidates(weeks(40, 40, 95))
    assert said["holds"].to_list() == [False, True, False]


def test_silence_is_said_once_it_is_longer_than_the_limit() -> None:
    said = quiet(signs(*range(0, 20, 2)), 40)
    assert said["on_date"].to_list() == [MONDAY + dt.timedelta(days=18 + 11)]
    assert said["opens"].to_list() == [True]


def test_the_next_sign_closes_it() -> None:
    said = quiet(signs(0, 2, 4, 6, 30), 40)
    assert said["opens"].to_list() == [True, False]
    assert said["on_date"][1] == MONDAY + dt.timedelta(days=30)


def test_who_comes_rarely_is_waited_for() -> None:
    assert quiet(signs(0, 9, 18, 27), 40).is_empty()


def test_an_entered_absence_explains_the_silence() -> None:
    away = [("p1", MONDAY + dt.timedelta(days=8), MONDAY + dt.timedelta(days=24))]
    assert quiet(signs(0, 2, 4, 6), 30, away).is_empty()
    assert quiet(signs(0, 2, 4, 6), 36, away)["on_date"].to_list() == [MONDAY + dt.timedelta(days=35)]


def test_who_leaves_on_the_day_on_which_it_would_be_said_is_not_waited_for() -> None:
    until, away = MONDAY + dt.timedelta(days=60), pl.DataFrame([], schema=ABSENCES)
    on = quiet_candidates(signs(0, 2, 4, 6), away, PLAYERS, 10, until).filter("opens")["on_date"].item()
    for gone, expected in ((on, 0), (on + dt.timedelta(days=1), 1)):
        leaving = PLAYERS.with_columns(pl.lit(gone).alias("left_on"))
        assert quiet_candidates(signs(0, 2, 4, 6), away, leaving, 10, until).filter("opens").height == expected


def test_who_has_left_is_not_waited_for() -> None:
    gone = PLAYERS.with_columns(pl.lit(MONDAY + dt.timedelta(days=7)).alias("left_on"))
    away = pl.DataFrame([], schema=ABSENCES)
    assert quiet_candidates(signs(0, 2, 4, 6), away, gone, 10, MONDAY + dt.timedelta(days=60)).is_empty()
