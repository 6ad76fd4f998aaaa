from __future__ import annotations

import datetime as dt
import math

import polars as pl
import pytest

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


def test_each_column_of_a_week_beside_its_plan() -> None:
    said = plan_candidates(weeks(30, 40).with_columns(planned=80.0)).tail(1)
    assert said.select("player_id", "kind", "metric", "opens", "holds", "certain", "n").rows() == [
        ("p1", "plan_gap", "swings_full", True, True, True, 2)
    ]
    row = said.row(0, named=True)
    assert (row["value"], row["baseline"], row["reasons"]) == (40.0, 80.0, ["done_over_planned=0.5"])
    assert row["sources"] == ["plan:2026-03-09"]
    assert row["strength"] == pytest.approx(2.0 + math.log(2.0))


@pytest.mark.parametrize(
    ("done", "opens"),
    [
        ((59, 59), [False, True]),
        ((60, 60), []),  # six tenths of the plan are close enough
        ((59, 100, 59), [False, False, True]),
        ((59, 100, 100, 59), [False, False, False]),
        ((151, 151), [False, True]),
        ((150, 150), []),
        ((151, 59, 151), [False, False, True]),
        ((0, 0), [False, True]),
        ((59, 100, 100), [False, False]),  # a week after one that was far closes it, the next says nothing
    ],
)
def test_which_weeks_are_far_from_their_plan(done: tuple[float, ...], opens: list[bool]) -> None:
    said = plan_candidates(weeks(*done))
    assert said["opens"].to_list() == opens
    assert said["holds"].to_list() == opens
    assert plan_candidates(weeks(*done).with_columns(planned=0.0)).is_empty()


def test_how_far_is_bounded_and_players_are_read_apart() -> None:
    assert plan_candidates(weeks(0, 0))["strength"].to_list() == [pytest.approx(2.0 + math.log(20.0))] * 2
    assert plan_candidates(weeks(1e6))["strength"].item() == pytest.approx(2.0 + math.log(20.0))
    two = pl.concat([weeks(40), weeks(40).with_columns(pl.lit("p2").alias("player_id"))])
    assert plan_candidates(two)["opens"].to_list() == [False, False]


def test_each_column_of_a_silence() -> None:
    said = quiet(signs(0, 4, 8, 12, 40), 60)
    assert said.select("player_id", "kind", "opens", "holds", "certain", "strength").rows()[:2] == [
        ("p1", "quiet", True, True, True, 2.0), ("p1", "quiet", False, False, True, 2.0),
    ]  # fmt: skip
    row = said.row(0, named=True)
    assert (row["value"], row["baseline"], row["n"]) == (13.0, 4.0, 13)
    assert row["reasons"] == ["days_without_sign=13", "usual_gap=4"]
    days = [(day - MONDAY).days for day in said["on_date"]]
    assert days == [12 + 13, 40, 40 + 13]


@pytest.mark.parametrize(
    ("days", "until", "away", "said"),
    [
        ((0,), 11, [], [11]),
        ((0,), 10, [], []),
        ((0, 11), 11, [], []),  # it came on the day on which it would be said
        ((0, 12), 12, [], [11, 12]),
        ((0, 1, 13), 40, [], [12, 13]),
        ((0,), 40, [(11, 20)], [31]),  # an absence that begins in time explains it to its end
        ((0,), 40, [(12, 20)], [11, 12]),  # one that begins too late closes it
        ((0,), 40, [(0, 0)], [11]),
        ((0,), 40, [(5, 20), (15, 25)], [36]),
        ((0,), 40, [(5, None)], []),
        ((0,), 40, [(14, 16), (12, 13)], [11, 12]),
        ((0, 14), 80, [(13, 30)], [11, 13, 73]),
    ],
)
def test_when_silence_is_said_and_over(
    days: tuple[int, ...], until: int, away: list[tuple[int, int | None]], said: list[int]
) -> None:
    def on(day: int | None) -> dt.date | None:
        return None if day is None else MONDAY + dt.timedelta(days=day)

    absences = [("p1", on(began), on(ended)) for began, ended in away]
    found = quiet(signs(*days), until, absences)  # type: ignore[arg-type] # days of the calendar
    assert sorted((day - MONDAY).days for day in found["on_date"]) == sorted(said)


def test_the_usual_gap_is_the_median_so_far() -> None:
    """Gaps of 1, 9 and 9 days: 9 is usual, and 27 days are waited for; with the limit of 30 days those."""
    days = signs(0, 1, 10, 19)
    assert quiet(days, 60).filter("opens").select("baseline", "n").rows() == [(9.0, 28)]
    away = pl.DataFrame([], schema=ABSENCES)
    late = quiet_candidates(days, away, PLAYERS, 30, MONDAY + dt.timedelta(days=60))
    assert late.filter("opens").select("n").rows() == [(31,)]


def test_who_came_only_after_the_leaving_day_ends_no_night() -> None:
    """A player who returns while the players file still says when they had left."""
    gone = PLAYERS.with_columns(pl.lit(MONDAY - dt.timedelta(days=7)).alias("left_on"))
    absences = pl.DataFrame(schema={"player_id": pl.String, "began_on": pl.Date, "ended_on": pl.Date})
    assert quiet_candidates(signs(0, 1), absences, gone, 10, MONDAY + dt.timedelta(days=60)).is_empty()
