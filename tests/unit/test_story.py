"""The one record of a player: of which series, against what, on which course; and what open flags would say today."""

from __future__ import annotations

import datetime as dt
from typing import Any

import polars as pl

from pipelines.measures.story import flags_now, newest_levels, player_stories, sessions_since
from schemas.core import core_tables

DAY = dt.date(2026, 6, 28)
CHANGE = {"change_28": 0.5, "change_28_low": -0.5, "change_28_high": 1.5, "p_better": 0.2, "p_trivial": 0.7, "p_worse": 0.1}


def rows(table: str, *given: dict[str, Any]) -> pl.DataFrame:
    schema = core_tables()[table].polars_schema()
    return pl.DataFrame([{name: row.get(name) for name in schema} for row in given], schema=schema)


def point(session: str, days: int, level: float, series: str = "", **more: Any) -> dict[str, Any]:
    of = {"player_id": "p1", "metric": "club_speed_mps", "club_group": "driver", "series": series, "session_id": session}
    interval = {"level": level, "level_low": level - 0.3, "level_high": level + 0.3, "state": "steady", "worthwhile": 1.0}
    return of | {"on_date": DAY - dt.timedelta(days=days)} | interval | CHANGE | more


def lasting(against: str, then: float, now_days: int = 1) -> dict[str, Any]:
    of = {"player_id": "p1", "metric": "club_speed_mps", "club_group": "driver", "against": against, "then_level": then}
    return of | {
        "then_on": DAY - dt.timedelta(days=370),
        "now_on": DAY - dt.timedelta(days=now_days),
        "lasts": True,
        "change": 2.0,
    }


def month(number: int, course: str, change: float) -> dict[str, Any]:
    return {
        "player_id": "p1",
        "month_on": dt.date(2026, number, 1),
        "course": course,
        "change": change,
        "change_low": change - 1,
        "change_high": change + 1,
        "chance_cost": 0.9,
    }


HOMES = rows("home_course", {"player_id": "p1", "course": "tree-lined"})
MONTHS = rows("stroke_month", month(4, "tree-lined", 0.9), month(5, "tree-lined", 1.5), month(6, "open", 9.0))
NOTHING = rows("lasting_difference")


def test_the_level_is_that_of_the_series_that_the_chart_shows() -> None:
    points = rows("trend_point", point("s1", 9, 44.0), point("s2", 1, 45.0), point("s3", 0, 50.0, "bay-9"))
    assert newest_levels(points)["level"].to_list() == [45.0]
    other = rows("trend_point", point("s3", 3, 50.0, "bay-9"), point("s4", 2, 51.0, "bay-9"), point("s5", 0, 49.0, "bay-8"))
    assert newest_levels(other)["level"].to_list() == [51.0]


def test_one_record_holds_level_comparison_and_strokes_of_the_home_course() -> None:
    points = rows("trend_point", point("s1", 9, 44.0), point("s2", 1, 45.0))
    both = rows("lasting_difference", lasting("first", 40.0), lasting("year", 43.0))
    (told,) = player_stories(points, both, MONTHS, HOMES).to_dicts()
    assert (told["level"], told["on_date"]) == (45.0, DAY - dt.timedelta(days=1))
    assert (told["then_against"], told["then_level"], told["then_lasts"]) == ("year", 43.0, True)
    assert (told["strokes_course"], told["strokes_change"], told["strokes_month_on"]) == ("tree-lined", 1.5, dt.date(2026, 5, 1))


def test_where_a_year_is_missing_the_first_normal_stands_and_what_is_of_another_day_does_not() -> None:
    points = rows("trend_point", point("s2", 1, 45.0))
    (told,) = player_stories(points, rows("lasting_difference", lasting("first", 40.0)), MONTHS, HOMES).to_dicts()
    assert told["then_against"] == "first"
    (old,) = player_stories(points, rows("lasting_difference", lasting("year", 40.0, now_days=5)), MONTHS, HOMES).to_dicts()
    assert (old["then_against"], old["then_level"]) == (None, None)


def test_strokes_without_speed_and_speed_without_strokes_are_records_too() -> None:
    (told,) = player_stories(rows("trend_point"), NOTHING, MONTHS, HOMES).to_dicts()
    assert (told["level"], told["strokes_change"]) == (None, 1.5)
    (told,) = player_stories(rows("trend_point", point("s2", 1, 45.0)), NOTHING, MONTHS.clear(), HOMES).to_dicts()
    assert (told["level"], told["strokes_change"], told["then_on"]) == (45.0, None, None)


def flag(name: str, kind: str, **more: Any) -> dict[str, Any]:
    return {
        "flag_id": name,
        "player_id": "p1",
        "kind": kind,
        "metric": "",
        "region": "",
        "club_group": "",
        "device_id": "",
    } | more


SPANS = rows(
    "flag_candidate",
    {"kind": "plan_gap", "player_id": "p1", "on_date": DAY - dt.timedelta(days=7), "value": 22.0},
    {"kind": "plan_gap", "player_id": "p1", "on_date": DAY - dt.timedelta(days=70), "value": 43.0},
    {"kind": "plan_gap", "player_id": "p2", "on_date": DAY, "value": 9.0},
    {"kind": "transfer_loss", "player_id": "p1", "on_date": DAY - dt.timedelta(days=2), "value": 199.0},
)
"""Weeks that were far from the plan, and a month's carry."""


def test_days_with_a_session_are_counted_from_the_night_after_a_notice_was_raised() -> None:
    speed = {"metric": "club_speed_mps", "club_group": "driver", "raised_on": DAY - dt.timedelta(days=10)}
    flags = rows(
        "flag",
        flag("n1", "speed_fall", **speed, level="notice"),
        flag("n2", "scatter_rise", **speed | {"metric": "scatter_side_m"}, level="notice"),
        flag("n3", "speed_fall", **speed, level="notice", closed_on=DAY),
        flag("a1", "speed_fall", **speed, level="alert"),
    )
    days = ((12, ""), (10, ""), (9, ""), (9, "bay-9"), (5, ""))
    points = rows("trend_point", *(point(f"s{n}", ago, 45.0, series) for n, (ago, series) in enumerate(days)))
    assert sessions_since(points, flags).rows() == [("n1", 2)]


NO_SESSIONS = pl.DataFrame(schema={"flag_id": pl.String, "n_sessions": pl.Int64})


def test_of_a_notice_less_is_likely_with_every_session_that_makes_no_alert_of_it() -> None:
    speed = {"metric": "club_speed_mps", "club_group": "driver"}
    flags = rows(
        "flag",
        flag("n1", "speed_fall", **speed, level="notice"),
        flag("n2", "speed_fall", **speed, level="notice", device_id="bay-1"),
        flag("n3", "speed_rise", **speed, level="notice"),
        flag("n4", "scatter_rise", metric="scatter_side_m", club_group="driver", level="notice"),
        flag("n5", "speed_fall", **speed, level="notice", device_id="bay-2"),
        flag("a1", "speed_fall", **speed, level="alert"),
        flag("d1", "device_shift", device_id="bay-1", level="notice") | {"player_id": ""},
        flag("d2", "device_shift", device_id="bay-2", level="notice", closed_on=DAY) | {"player_id": ""},
    )
    points = rows("trend_point", point("s2", 1, 45.0), point("s2", 1, 12.5, metric="scatter_side_m"))
    since = pl.DataFrame({"flag_id": ["n1", "n2", "n3", "n4", "a1"], "n_sessions": [6, 6, 6, 3, 6]})
    none = rows("body_day")
    told = flags_now(flags, points, MONTHS, HOMES, none, SPANS, since)
    shares = dict(told.select("flag_id", "now_share").iter_rows())
    assert shares == {"n1": 0.25, "n2": None, "n3": None, "n4": 0.25, "n5": 1.0, "a1": None}


def test_open_flags_are_told_their_value_of_today() -> None:
    points = rows(
        "trend_point", point("s2", 1, 45.0), point("s2", 1, 12.5, metric="scatter_side_m"), point("s2", 1, 3.5, metric="wild_pct")
    )
    stiff = {"player_id": "p1", "item": "stiff_neck", "region": "neck"}
    answers = rows(
        "body_day",
        stiff | {"on_date": DAY - dt.timedelta(days=3), "recent": 3.5},
        stiff | {"on_date": DAY - dt.timedelta(days=2), "recent": 2.5},
        stiff | {"on_date": DAY - dt.timedelta(days=1), "recent": None},
        {"player_id": "p1", "item": "fatigue", "region": "", "on_date": DAY, "recent": 6.0},
    )
    flags = rows(
        "flag",
        flag("f1", "speed_fall", metric="club_speed_mps", club_group="driver"),
        flag("f2", "scatter_rise", metric="scatter_side_m", club_group="driver"),
        flag("f3", "strokes_worse", metric="strokes", club_group="driver"),
        flag("f4", "body_stiff", region="neck"),
        flag("f5", "body_fatigue", metric="fatigue"),
        flag("f6", "load_jump", metric="day_swings"),
        flag("f7", "speed_fall", metric="club_speed_mps", club_group="driver", closed_on=DAY),
        flag("f8", "speed_rise", metric="club_speed_mps", club_group="iron"),
        flag("f9", "plan_gap", metric="swings_full"),
        flag("g1", "wild_rise", metric="wild_pct", club_group="driver"),
        flag("g2", "transfer_loss", metric="comparable_carry_m", club_group="driver"),
    )
    told = flags_now(flags, points, MONTHS, HOMES, answers, SPANS, NO_SESSIONS).to_dicts()
    assert {row["flag_id"]: (row["now_low"], row["now_high"]) for row in told} == {
        "f1": (44.7, 45.3),
        "f2": (12.2, 12.8),
        "f3": (0.5, 2.5),
        "g1": (3.2, 3.8),
        **dict.fromkeys(("f4", "f5", "f9", "g2"), (None, None)),
    }
    found = {row["flag_id"]: (row["now_value"], row["now_on"]) for row in told}
    assert found == {
        "f1": (45.0, DAY - dt.timedelta(days=1)),
        "f2": (12.5, DAY - dt.timedelta(days=1)),
        "f3": (1.5, dt.date(2026, 5, 31)),
        "f4": (2.5, DAY - dt.timedelta(days=2)),
        "f5": (6.0, DAY),
        "f9": (22.0, DAY - dt.timedelta(days=7)),
        "g1": (3.5, DAY - dt.timedelta(days=1)),
        "g2": (199.0, DAY - dt.timedelta(days=2)),
    }
