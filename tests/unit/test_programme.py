from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from pipelines.measures.programme.changes import level_changes, stroke_changes
from pipelines.measures.programme.phases import phase_weeks, phases, planned_and_done

PLAN = {
    "player_id": pl.String, "week_starting": pl.Date, "phase": pl.String, "swings_full": pl.Int64, "swings_speed": pl.Int64,
    "minutes": pl.Float64,
}  # fmt: skip


def week(on: date, phase: str | None, full: int | None = 400, player: str = "p1") -> tuple[object, ...]:
    return (player, on, phase, full, 40, 300.0)


def plans(*rows: tuple[object, ...]) -> pl.DataFrame:
    return pl.DataFrame(rows, schema=PLAN, orient="row")


def days(first: date, swings: list[int | None], player: str = "p1") -> pl.DataFrame:
    """Known days in a row; None: a session without a count."""
    rows = [
        {"player_id": player, "on_date": first + timedelta(days=at), "n_sessions": int(n != 0), "swings_full": n, "minutes": 60.0}
        for at, n in enumerate(swings)
    ]
    return pl.DataFrame(rows, schema_overrides={"swings_full": pl.Int64})


def test_weeks_of_one_name_are_a_phase_and_a_long_gap_or_another_name_parts_them() -> None:
    found = phases(
        plans(
            week(date(2026, 1, 5), "speed"),
            week(date(2026, 1, 26), "speed"),  # 21 days after: the same
            week(date(2026, 2, 23), "speed"),  # 28 days after: another
            week(date(2026, 3, 2), "play"),
            week(date(2026, 3, 9), None),
            week(date(2026, 3, 16), ""),
            week(date(2026, 3, 2), "play", player="p2"),
        )
    )
    assert found.rows() == [
        ("p1", "speed", date(2026, 1, 5), date(2026, 2, 1)),
        ("p1", "speed", date(2026, 2, 23), date(2026, 3, 1)),
        ("p1", "play", date(2026, 3, 2), date(2026, 3, 8)),
        ("p2", "play", date(2026, 3, 2), date(2026, 3, 8)),
    ]


def test_planned_and_done_are_of_the_weeks_that_are_over() -> None:
    weeks = phase_weeks(plans(week(date(2026, 3, 2), "speed"), week(date(2026, 3, 9), "speed", 500)))
    done = days(date(2026, 3, 2), [50] * 10)
    row = planned_and_done(weeks, done, date(2026, 3, 11)).row(0, named=True)
    assert (row["n_weeks"], row["n_days"], row["n_days_known"]) == (2, 7, 7)
    assert (row["planned_full"], row["done_full"], row["n_sessions"]) == (400, 350, 10)
    assert row["done_share"] == pytest.approx(350 / 400)
    assert (row["planned_speed"], row["planned_minutes"], row["done_minutes"]) == (40, 300.0, 420.0)
    sunday = planned_and_done(weeks, done, date(2026, 3, 15)).row(0, named=True)
    assert (sunday["planned_full"], sunday["n_days"]) == (900, 14)


def test_done_is_scaled_by_the_days_known_and_silent_below_five_of_seven() -> None:
    weeks = phase_weeks(plans(week(date(2026, 3, 2), "speed")))
    as_of = date(2026, 3, 31)
    five = planned_and_done(weeks, days(date(2026, 3, 2), [50] * 5), as_of).row(0, named=True)
    assert (five["done_full"], five["done_minutes"]) == (350, 420.0)
    four = planned_and_done(weeks, days(date(2026, 3, 2), [50] * 4), as_of).row(0, named=True)
    assert (four["done_full"], four["done_share"], four["n_days_known"]) == (None, None, 4)
    unknown = planned_and_done(weeks, days(date(2026, 3, 2), [50, 50, None, 50, 50, 50, 50]), as_of).row(0, named=True)
    assert (unknown["done_full"], unknown["done_minutes"]) == (None, 420.0)
    nothing = planned_and_done(weeks, days(date(2026, 3, 9), [50]), as_of).row(0, named=True)
    assert (nothing["n_days_known"], nothing["n_sessions"], nothing["done_full"]) == (0, 0, None)


def test_a_week_between_two_planned_ones_belongs_to_no_phase() -> None:
    weeks = phase_weeks(plans(week(date(2026, 3, 2), "speed"), week(date(2026, 3, 16), "speed")))
    row = planned_and_done(weeks, days(date(2026, 3, 2), [10] * 21), date(2026, 3, 31)).row(0, named=True)
    assert (row["n_days"], row["done_full"], row["planned_full"]) == (14, 140, 800)


def test_a_plan_without_numbers_is_no_plan_of_zero() -> None:
    weeks = phase_weeks(plans(week(date(2026, 3, 2), "speed", None)))
    row = planned_and_done(weeks, days(date(2026, 3, 2), [50] * 7), date(2026, 3, 31)).row(0, named=True)
    assert (row["planned_full"], row["done_full"], row["done_share"]) == (None, 350, None)


SPANS = pl.DataFrame({"player_id": ["p1"], "began_on": [date(2026, 3, 2)], "ended_on": [date(2026, 3, 29)]})


def levels(*rows: tuple[date, float]) -> pl.DataFrame:
    return pl.DataFrame(
        [("p1", on, f"s{at}", level, level - 3.0, level + 3.0) for at, (on, level) in enumerate(rows)],
        schema=["player_id", "on_date", "session_id", "level", "level_low", "level_high"],
        orient="row",
    )


def test_a_change_is_after_less_before_with_both_errors() -> None:
    known = levels((date(2026, 2, 27), 44.0), (date(2026, 3, 1), 45.0), (date(2026, 3, 2), 46.0), (date(2026, 3, 29), 48.0))
    known = known.with_columns(
        level_low=pl.when(pl.col("level") == 48).then(44.0).otherwise("level_low"),
        level_high=pl.when(pl.col("level") == 48).then(52.0).otherwise("level_high"),
    )
    later = levels((date(2026, 3, 30), 60.0))
    row = level_changes(SPANS, pl.concat([known, later])).row(0, named=True)
    assert (row["before"], row["after"], row["change"], row["n_sessions"]) == (45.0, 48.0, 3.0, 2)
    assert (row["low"], row["high"]) == (-2.0, 8.0)  # 3 and 4 make 5


def test_the_first_day_belongs_to_the_phase() -> None:
    row = level_changes(SPANS, levels((date(2026, 3, 2), 46.0))).row(0, named=True)
    assert (row["before"], row["after"], row["n_sessions"], row["change"]) == (None, 46.0, 1, None)


def test_the_level_before_is_at_most_sixty_days_old() -> None:
    during = (date(2026, 3, 9), 46.0)
    sixty = date(2026, 3, 2) - timedelta(days=60)
    assert level_changes(SPANS, levels((sixty, 40.0), during))["change"].to_list() == [6.0]
    assert level_changes(SPANS, levels((sixty - timedelta(days=1), 40.0), during))["change"].to_list() == [None]


def test_no_session_in_a_phase_is_no_change() -> None:
    row = level_changes(SPANS, levels((date(2026, 3, 1), 45.0))).row(0, named=True)
    assert (row["after"], row["change"], row["n_sessions"]) == (None, None, 0)


def test_strokes_are_of_the_last_month_before_and_the_last_that_the_phase_reached() -> None:
    spans = SPANS.with_columns(began_on=pl.lit(date(2026, 3, 16)), ended_on=pl.lit(date(2026, 5, 3)))
    months = pl.DataFrame(
        [
            ("p1", "open", date(2025, 11, 1), 40.0, 37.0, 43.0),
            ("p1", "open", date(2026, 1, 1), 30.0, 27.0, 33.0),
            ("p1", "open", date(2025, 12, 1), 31.0, 27.0, 33.0),
            ("p1", "open", date(2026, 3, 1), 33.0, 27.0, 33.0),
            ("p1", "open", date(2026, 5, 1), 32.0, 28.0, 36.0),
            ("p1", "open", date(2026, 6, 1), 50.0, 28.0, 36.0),
            ("p1", "trees", date(2026, 3, 1), 30.0, 27.0, 33.0),
            ("p1", "trees", date(2025, 11, 1), 30.0, 27.0, 33.0),
            ("p1", "links", date(2026, 2, 1), 30.0, 27.0, 33.0),
        ],
        schema=["player_id", "course", "month_on", "per_round", "per_round_low", "per_round_high"],
        orient="row",
    )
    assert stroke_changes(spans, months).rows() == [
        ("p1", date(2026, 3, 16), "open", date(2026, 1, 1), date(2026, 5, 1), 30.0, 32.0, 2.0, -3.0, 7.0)
    ]
    earliest = months.filter(pl.col("month_on").is_in([date(2025, 12, 1), date(2026, 3, 1)]))
    assert stroke_changes(spans, earliest).select("before_month_on", "after_month_on").rows() == [
        (date(2025, 12, 1), date(2026, 3, 1))
    ]
