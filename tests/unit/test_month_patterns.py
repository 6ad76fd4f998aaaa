"""Patterns and strokes by month: what they hold, and what they say when there is too little."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl
import pytest
from scipy.stats import norm

from pipelines.measures.scatter.months import patterns_by_month, quartiles_by_month
from pipelines.measures.strokes import DrivePattern, PatternError, course_strokes, expected_strokes
from pipelines.measures.strokes.months import drive_pattern, strokes_by_month, with_neighbours
from pipelines.measures.tradeoff.maps import break_evens, map_lines, newest_patterns, placed
from schemas.core.ball import BREAK_EVEN, PATTERN_MONTH, STROKE_MONTH, TRADEOFF_LINE
from schemas.course import DEFAULT_COURSES

SCHEMA = PATTERN_MONTH.polars_schema()


def shots(
    player: str, month: date, n: int, *, speed: float = 45.0, scatter: float = 4.0, carry: float = 210.0, seed: int = 0
) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    direction = rng.normal(0.5, scatter, n)
    distance = rng.normal(carry, 8.0, n)
    distance[:: max(n // 3, 1)] *= 0.5 if n >= 20 else 1.0  # three or four mishits
    return pl.DataFrame(
        {
            "session_id": [f"{player}-{month}-{k % 4}" for k in range(n)],
            "player_id": player,
            "on_date": [month + timedelta(days=k % 4) for k in range(n)],
            "club": "driver",
            "club_group": "driver",
            "method": "anchored",
            "carry_m": distance,
            "carry_pooled_m": 1.01 * distance,
            "carry_bearman_harvey_m": 0.99 * distance,
            "offline_m": distance * np.tan(np.radians(direction)),
            "direction_deg": direction,
            "run_m": 25.0,
            "club_speed_mps": rng.normal(speed, 0.5, n),
            "speed_ratio": 1.45,
            "launch_deg": 12.5,
            "spin_rpm": 2800.0,
        }
    )


def table(*frames: pl.DataFrame) -> pl.DataFrame:
    return patterns_by_month(pl.concat(frames), SCHEMA).with_columns(device_error_m=0.0)


def season(scatter_after: float, speed_after: float) -> pl.DataFrame:
    before = [shots("a", date(2025, month, 1), 60, seed=month) for month in range(1, 7)]
    gain = 5.4 * (speed_after - 45.0)
    after = [
        shots("a", date(2025, month, 1), 60, seed=month, speed=speed_after, scatter=scatter_after, carry=210.0 + gain)
        for month in range(10, 13)
    ]
    return table(*before, *after)


def test_a_month_holds_middle_spread_and_mishits() -> None:
    row = table(shots("a", date(2026, 3, 1), 90)).row(0, named=True)
    assert (row["n_shots"], row["n_sessions"], row["reason"], row["anchored_share"]) == (90, 4, "", 1.0)
    assert row["n_mishits"] == 3
    assert row["carry_m"] == pytest.approx(210.0, abs=3.0)
    assert row["total_m"] == pytest.approx(row["carry_m"] + 25.0)
    assert row["direction_sd_deg"] == pytest.approx(4.0, rel=0.15)  # normal shots: as a published value is counted
    assert 0.0 < row["tail_share"] < 0.08
    assert row["carry_model_error_m"] == pytest.approx(0.01 * row["carry_m"])
    others = [row[name] for name in ("carry_pooled_m", "carry_bearman_harvey_m")]
    assert np.std([row["carry_m"], *others], ddof=1) == pytest.approx(row["carry_model_error_m"])
    assert row["mishit_low"] < row["mishit_rate"] < row["mishit_high"]
    assert row["ellipse_long_m"] > row["ellipse_short_m"] > 0.0


def test_too_few_shots_and_no_offline_are_said() -> None:
    blind = shots("b", date(2026, 3, 1), 30).with_columns(pl.lit(None, dtype=pl.Float64).alias("direction_deg"))
    found = table(shots("a", date(2026, 3, 1), 7), blind)
    assert found["reason"].to_list() == ["too_few_shots", "no_offline"]
    assert found["carry_m"].null_count() == 2
    assert found["club_speed_mps"].null_count() == 0
    assert patterns_by_month(shots("a", date(2026, 3, 1), 9).clear(), SCHEMA).is_empty()


def test_the_club_most_struck_stands_for_its_group() -> None:
    irons = [
        shots("a", date(2026, 3, 1), n).with_columns(pl.lit(club).alias("club"), pl.lit("iron").alias("club_group"))
        for club, n in (("5-iron", 12), ("7-iron", 30))
    ]
    assert table(*irons).select("club", "n_shots").row(0) == ("7-iron", 30)


def test_later_months_do_not_change_earlier_ones() -> None:
    frames = [shots(player, date(2026, month, 1), 40, seed=month + 10 * ord(player)) for player in "abcd" for month in (1, 2, 3)]
    whole = table(*frames).filter(pl.col("month_on") < date(2026, 3, 1))
    early = table(*(frame for frame in frames if frame["on_date"][0] < date(2026, 3, 1)))
    assert early.equals(whole)


def test_speed_that_pays_in_the_open_and_costs_among_trees() -> None:
    months = strokes_by_month(with_neighbours(season(5.8, 48.5)), {"a": "80"}, DEFAULT_COURSES, STROKE_MONTH.polars_schema())
    last = {row["course"]: row for row in months.filter(pl.col("month_on") == date(2025, 12, 1)).to_dicts()}
    assert last["open"]["chance_cost"] < 0.1
    assert last["tree-lined"]["chance_cost"] > 0.9
    for row in last.values():
        assert row["change_distance"] + row["change_trouble"] == pytest.approx(row["change"], abs=1e-9)
        assert row["change_low"] < row["change"] < row["change_high"]
        assert row["change_speed_mps"] == pytest.approx(3.5, abs=0.2)
        parts = ("clean", "rough", "trees", "water", "out_of_bounds")
        assert sum(row[f"{part}_per_round"] for part in parts) == pytest.approx(row["per_round"], abs=1e-9)
    first = months.filter(pl.col("month_on") == date(2025, 1, 1))
    assert first["reason"].unique().to_list() == ["no_reference"]
    assert first["change"].null_count() == first.height


def by_models(patterns: pl.DataFrame, then: float, now: float) -> pl.DataFrame:
    """With carries by the two other sets that differ by so many metres, the other way each, before and since October."""
    away = pl.when(pl.col("month_on") >= date(2025, 10, 1)).then(now).otherwise(then)
    return patterns.with_columns(
        carry_pooled_m=pl.col("carry_m") + away,
        carry_bearman_harvey_m=pl.col("carry_m") - away,
        carry_model_error_m=away.abs(),
    )


def test_a_months_interval_holds_what_the_flight_models_differ_by_and_a_change_what_they_do_not_share() -> None:
    """Delta method: the variance grows by (strokes per metre times the spread of the models) squared."""
    course, standard = DEFAULT_COURSES[:1], {"a": "80"}

    def months(then: float, now: float) -> dict[str, float]:
        patterns = by_models(season(4.0, 45.0), then, now)
        found = strokes_by_month(with_neighbours(patterns), standard, course, STROKE_MONTH.polars_schema())
        row = found.row(-1, named=True)
        return row | {"half": row["per_round_high"] - row["per_round"], "square": row["change_error"] ** 2}

    none, alike, more, apart = months(0.0, 0.0), months(3.0, 3.0), months(6.0, 6.0), months(-3.0, 3.0)
    assert alike["half"] > none["half"]
    assert more["half"] ** 2 - none["half"] ** 2 == pytest.approx(4 * (alike["half"] ** 2 - none["half"] ** 2), rel=1e-6)
    assert alike["per_round"] == none["per_round"]
    assert none["square"] <= alike["square"] < none["square"] * 1.01  # both sides by the same set: nearly all falls out
    per_m = {
        side: course_strokes([drive_pattern(row, side)], course[0], "80", [PatternError(0.0, 0.0, 0.0, 0.0)])[0].strokes_per_m
        for row in with_neighbours(by_models(season(4.0, 45.0), -3.0, 3.0)).tail(1).to_dicts()
        for side in ("recent_", "reference_")
    }
    holes = len(course[0].tee_shots)
    moved = 3.0 * ((per_m["recent_"] or 0.0) + (per_m["reference_"] or 0.0)) * holes  # of 0, +moved, -moved
    assert apart["square"] - none["square"] == pytest.approx(moved**2, rel=1e-3)


def test_a_change_without_carries_by_the_other_sets_on_one_side_has_none_of_their_spread() -> None:
    known = by_models(season(4.0, 45.0), -3.0, 3.0)
    since = pl.col("month_on") >= date(2025, 10, 1)
    half = known.with_columns(pl.when(since).then(name).alias(name) for name in ("carry_pooled_m", "carry_bearman_harvey_m"))
    none = by_models(season(4.0, 45.0), 0.0, 0.0)
    of_half, of_none = (
        strokes_by_month(with_neighbours(one), {"a": "80"}, DEFAULT_COURSES[:1], STROKE_MONTH.polars_schema())["change_error"][-1]
        for one in (half, none)
    )
    assert of_half == of_none


def test_a_change_is_told_of_one_player_behind_many_of_whom_there_is_none() -> None:
    one = table(shots("a", date(2026, 1, 1), 12))
    many = [one.with_columns(pl.lit(f"b{number}").alias("player_id")) for number in range(110)]
    last = season(4.0, 45.0).with_columns(pl.lit("c").alias("player_id"))
    players = dict.fromkeys((*(f"b{number}" for number in range(110)), "c"), "80")
    found = strokes_by_month(
        with_neighbours(pl.concat([*many, last])), players, DEFAULT_COURSES[:1], STROKE_MONTH.polars_schema()
    )
    assert found.filter(pl.col("change").is_not_null())["player_id"].unique().to_list() == ["c"]


def test_a_month_that_has_just_begun_makes_no_change_more_certain() -> None:
    """The error of a change was that of the newest month's few shots over the root of all: a third of what it is."""
    months = season(4.0, 45.0)
    begun = pl.concat([months, table(shots("a", date(2026, 1, 1), 12, seed=20, carry=210.0))])
    found = strokes_by_month(with_neighbours(begun), {"a": "80"}, DEFAULT_COURSES[:1], STROKE_MONTH.polars_schema())
    before, now = found["change_error"].tail(2)
    assert now > 0.9 * before


def test_without_a_run_the_usual_share_stands_in() -> None:
    blind = season(4.0, 45.0).with_columns(pl.lit(None, dtype=pl.Float64).alias("total_m"))
    months = strokes_by_month(with_neighbours(blind), {"a": "80"}, DEFAULT_COURSES[:1], STROKE_MONTH.polars_schema())
    assert months["per_round"].null_count() == 0


def test_the_map_goes_through_the_player() -> None:
    newest = placed(newest_patterns(season(5.8, 48.5)))
    _, pattern, scale = newest[0]
    lines = map_lines(newest, {"a": "80"}, DEFAULT_COURSES, TRADEOFF_LINE.polars_schema())
    for course in ("open", "tree-lined"):
        zero = lines.filter((pl.col("course") == course) & (pl.col("step") == 0.0))
        here = np.interp(scale.club_speed_mps, zero["club_speed_mps"], zero["direction_sd_deg"])
        assert here == pytest.approx(pattern.direction_sd_deg, abs=0.05)
    prices = break_evens(newest, {"a": "80"}, DEFAULT_COURSES, BREAK_EVEN.polars_schema())
    by_course = dict(prices.select("course", "scatter_price_deg").iter_rows())
    assert by_course["open"] > by_course["tree-lined"] > 0.0


def test_a_player_without_club_speed_has_no_map() -> None:
    assert placed(newest_patterns(season(4.0, 45.0).with_columns(pl.lit(None, dtype=pl.Float64).alias("club_speed_mps")))) == []


def test_a_mishit_is_set_apart_and_leaves_the_core_as_it_is() -> None:
    whole = shots("a", date(2026, 3, 1), 60, seed=5)
    short = pl.col("carry_m") < 150.0
    with_them, without = table(whole).row(0, named=True), table(whole.filter(~short)).row(0, named=True)
    assert (with_them["n_mishits"], without["n_mishits"]) == (3, 0)
    for name in ("carry_m", "carry_sd_m", "direction_deg", "direction_sd_deg", "correlation"):
        assert with_them[name] == pytest.approx(without[name], rel=1e-9)


def test_each_month_says_what_follows_from_its_own_numbers() -> None:
    """Intervals of 90 % are 1.645 errors to either side; a month has a row for each course, in order; unknown stays unknown."""
    months = strokes_by_month(with_neighbours(season(5.8, 48.5)), {"a": "80"}, DEFAULT_COURSES, STROKE_MONTH.polars_schema())
    keys = months.select("player_id", "month_on", "course").rows()
    assert keys == sorted(keys)
    assert len(set(keys)) == len(keys) == 9 * len(DEFAULT_COURSES)
    changed = 0
    for row in months.iter_rows(named=True):
        assert row["per_round"] == pytest.approx(row["per_tee_shot"] * row["n_tee_shots"])
        assert row["per_round_high"] - row["per_round"] == pytest.approx(row["per_round"] - row["per_round_low"])
        assert row["standard"] == "80"
        assert row["n_shots"] == 60
        if row["reason"]:
            assert row["reason"] == "no_reference"
            assert (row["change"], row["change_error"], row["recent_n"], row["reference_from_on"]) == (None, None, None, None)
            continue
        changed += 1
        error = row["change_error"]
        own_error = (row["per_round_high"] - row["per_round"]) / 1.6449
        assert 0.0 < error < 2.0 * own_error
        assert row["change_low"] == pytest.approx(row["change"] - 1.6449 * error, abs=1e-4)
        assert row["change_high"] == pytest.approx(row["change"] + 1.6449 * error, abs=1e-4)
        assert row["chance_cost"] == pytest.approx(norm.cdf(row["change"] / error))
        assert row["change"] == pytest.approx(row["change_distance"] + row["change_trouble"])
        speed, low, high = (row[f"recent_{name}"] for name in ("speed_mps", "speed_low_mps", "speed_high_mps"))
        assert low < speed < high
        assert (low + high) / 2 == pytest.approx(speed)
        scatter, narrow, wide = (row[f"recent_{name}"] for name in ("scatter_deg", "scatter_low_deg", "scatter_high_deg"))
        assert narrow < scatter < wide
        assert narrow * wide == pytest.approx(scatter**2)
        assert row["reference_from_on"] <= row["reference_to_on"] < row["month_on"]
        assert row["recent_n"] % 60 == 0
        assert row["reference_n"] % 60 == 0
    last = months.filter(pl.col("month_on") == date(2025, 12, 1)).row(0, named=True)
    assert (last["recent_n"], last["reference_n"]) == (180, 360)
    assert (last["reference_from_on"], last["reference_to_on"]) == (date(2025, 1, 1), date(2025, 6, 1))
    assert last["change_speed_mps"] == pytest.approx(3.5, abs=0.2)
    assert changed >= 2


def test_the_error_of_a_change_holds_that_of_both_sides() -> None:
    """Fewer drives in the months compared with widen the change; independent errors add as squares."""
    few = [shots("a", date(2025, month, 1), 30, seed=month) for month in range(1, 7)]
    many = [shots("a", date(2025, month, 1), 120, seed=month) for month in range(1, 7)]
    after = [shots("a", date(2025, month, 1), 60, seed=month) for month in range(10, 13)]
    errors = [
        strokes_by_month(with_neighbours(table(*before, *after)), {"a": "80"}, DEFAULT_COURSES[:1], STROKE_MONTH.polars_schema())[
            "change_error"
        ][-1]
        for before in (few, many)
    ]
    assert errors[0] > 1.1 * errors[1]


def test_the_error_of_a_change_of_speed_holds_that_of_both_sides() -> None:
    """Three months after against six before, each month with the same error e: e²/3 + e²/6; a side without takes the other's."""
    error = pl.lit(0.3).alias("club_speed_error_mps")
    whole = season(4.0, 46.0).with_columns(error)
    half = whole.with_columns(pl.when(pl.col("month_on") >= date(2025, 10, 1)).then(error))

    def found(patterns: pl.DataFrame) -> float:
        months = strokes_by_month(with_neighbours(patterns), {"a": "80"}, DEFAULT_COURSES[:1], STROKE_MONTH.polars_schema())
        return float(months["change_speed_error_mps"][-1])

    assert found(whole) == pytest.approx(0.3 * (1 / 3 + 1 / 6) ** 0.5)
    assert found(half) == pytest.approx(0.3 * (2 / 3) ** 0.5)


def month_row(month: int, **values: Any) -> dict[str, Any]:
    base = {
        "player_id": "a", "month_on": date(2025, month, 1), "club_group": "driver", "n_shots": 60, "carry_m": 210.0,
        "total_m": 232.0,
        "carry_sd_m": 9.0, "direction_sd_deg": 4.5, "correlation": 0.2, "mishit_rate": 0.05, "club_speed_mps": 45.0,
        "carry_error_m": 1.5, "log_sd_error": 0.09, "mishit_error": 0.03, "club_speed_error_mps": 0.2,
        "tail_share": 0.08, "tail_share_error": 0.02, "tail_correlation": 0.6, "device_error_m": 0.0, "carry_model_error_m": 2.0,
        "carry_pooled_m": None, "carry_bearman_harvey_m": None,
    }  # fmt: skip
    return base | values


def test_each_column_of_a_month_of_strokes() -> None:
    """Level from the month's own pattern; the change from patterns pooled over three months and over those of reference."""
    faster = {"total_m": 244.0, "direction_sd_deg": 5.6, "club_speed_mps": 47.0, "correlation": -0.99}
    rows = [month_row(month) for month in (1, 2, 3, 4, 5, 6)] + [month_row(month, **faster) for month in (10, 11, 12)]
    rows += [month_row(12, player_id="b", carry_m=None), month_row(11, player_id="b", total_m=None, club_speed_mps=None)]
    frame = pl.DataFrame(rows, infer_schema_length=None)
    course = DEFAULT_COURSES[-1]
    found = strokes_by_month(with_neighbours(frame), {"a": "90", "b": "scratch"}, [course], STROKE_MONTH.polars_schema())
    assert found.filter(pl.col("player_id") == "b").select("month_on", "standard", "club_speed_mps").rows() == [
        (date(2025, 11, 1), "scratch", None)
    ]
    last = found.filter(pl.col("player_id") == "a").tail(1).row(0, named=True)
    holes = len(course.tee_shots)
    error = PatternError(2.5, 0.09, 0.09, 0.03, 0.02, 0.6)  # 1.5 of the shots and 2.0 of the flight models
    now = expected_strokes(DrivePattern(244.0, 0.0, 9.0, 5.6, -0.95, 0.05, tail_share=0.08), course, "90", error)
    assert now.standard_error is not None
    level = {
        "per_tee_shot": now.per_tee_shot, "per_round": now.per_round, "clean_per_round": now.clean * holes,
        "rough_per_round": now.rough * holes, "trees_per_round": now.trees * holes, "water_per_round": now.water * holes,
        "out_of_bounds_per_round": now.out_of_bounds * holes,
        "per_round_low": now.per_round - 1.6449 * now.standard_error * holes,
        "per_round_high": now.per_round + 1.6449 * now.standard_error * holes, "fairway_share": now.fairway_share,
        "trees_share": now.trees_share, "water_share": now.water_share, "out_share": now.out_share,
    }  # fmt: skip
    assert {name: last[name] for name in level} == {name: pytest.approx(value) for name, value in level.items()}
    assert (last["course"], last["standard"], last["n_shots"], last["n_tee_shots"]) == (course.name, "90", 60, holes)
    assert (last["club_speed_mps"], last["direction_sd_deg"], last["reason"]) == (47.0, 5.6, "")

    def pooled(n: int) -> PatternError:
        share = (60 / n) ** 0.5
        return PatternError(*(share * np.array([1.5, 0.09, 0.09, 0.03, 0.02])), 0.6)

    recent = expected_strokes(DrivePattern(244.0, 0.0, 9.0, 5.6, -0.95, 0.05, tail_share=0.08), course, "90", pooled(180))
    before = expected_strokes(DrivePattern(232.0, 0.0, 9.0, 4.5, 0.2, 0.05, tail_share=0.08), course, "90", pooled(360))
    assert (last["recent_n"], last["reference_n"]) == (180, 360)
    away = holes * ((recent.standard_error or 0.0) ** 2 + (before.standard_error or 0.0) ** 2) ** 0.5
    change = recent.per_round - before.per_round
    expected = {
        "change": change, "change_distance": (recent.clean - before.clean) * holes,
        "change_trouble": (recent.trouble - before.trouble) * holes, "change_error": away, "change_low": change - 1.6449 * away,
        "change_high": change + 1.6449 * away, "chance_cost": norm.cdf(change / away),
        "change_speed_mps": 2.0, "change_speed_error_mps": 0.2 * (1 / 3 + 1 / 6) ** 0.5,
        "change_scatter_deg": 1.1, "change_total_m": 12.0, "recent_speed_mps": 47.0,
        "recent_speed_low_mps": 47.0 - 1.6449 * 0.2 / 3**0.5, "recent_speed_high_mps": 47.0 + 1.6449 * 0.2 / 3**0.5,
        "recent_scatter_deg": 5.6, "recent_scatter_low_deg": 5.6 * np.exp(-1.6449 * 0.09 / 3**0.5),
        "recent_scatter_high_deg": 5.6 * np.exp(1.6449 * 0.09 / 3**0.5),
    }  # fmt: skip
    assert {name: last[name] for name in expected} == {name: pytest.approx(value, rel=1e-5) for name, value in expected.items()}
    assert (last["reference_from_on"], last["reference_to_on"]) == (date(2025, 1, 1), date(2025, 6, 1))


def test_without_errors_or_speeds_a_change_has_no_chance_and_no_interval_of_speed() -> None:
    exact = {
        "carry_error_m": 0.0,
        "log_sd_error": 0.0,
        "mishit_error": 0.0,
        "tail_share_error": 0.0,
        "carry_model_error_m": None,
        "club_speed_error_mps": None,
    }
    rows = [month_row(month, **exact) for month in (*range(1, 7), 10, 11, 12)]
    frame = pl.DataFrame(rows, schema_overrides={"club_speed_error_mps": pl.Float64})
    for frame_ in (frame, frame.with_columns(club_speed_mps=pl.lit(None, dtype=pl.Float64))):
        last = (
            strokes_by_month(with_neighbours(frame_), {"a": "80"}, DEFAULT_COURSES[:1], STROKE_MONTH.polars_schema())
            .tail(1)
            .row(0, named=True)
        )
        assert (last["change"], last["change_error"], last["chance_cost"], last["reason"]) == (0.0, 0.0, None, "")
        assert (last["recent_speed_low_mps"], last["recent_speed_high_mps"]) == (None, None)
        assert last["recent_scatter_low_deg"] == last["recent_scatter_high_deg"] == pytest.approx(4.5)
    assert (last["recent_speed_mps"], last["change_speed_mps"], last["club_speed_mps"]) == (None, None, None)
    assert strokes_by_month(with_neighbours(frame.clear()), {}, DEFAULT_COURSES, STROKE_MONTH.polars_schema()).is_empty()


def test_days_that_differ_widen_the_error_of_the_middle_carry() -> None:
    """Four sessions, each 6 m beyond the last: their standard deviation over two; a single session has no days to compare."""
    month = shots("a", date(2026, 3, 1), 80)
    away = pl.col("session_id").str.slice(-1).cast(pl.Float64) * 6.0
    apart = table(month.with_columns(pl.col("carry_m") + away)).row(0, named=True)
    one_day = table(month.with_columns(pl.lit("s").alias("session_id"))).row(0, named=True)
    assert one_day["carry_error_m"] < 1.3
    assert apart["carry_error_m"] == pytest.approx(np.std([0.0, 6.0, 12.0, 18.0], ddof=1) / 2, rel=0.25)


def test_the_map_takes_the_tails_of_three_months() -> None:
    share = pl.col("month_on").dt.month().replace_strict({10: 0.02, 11: 0.05, 12: 0.11}, default=0.3, return_dtype=pl.Float64)
    newest = placed(newest_patterns(season(4.0, 45.0).with_columns(share.alias("tail_share"))))
    assert newest[0][1].tail_share == pytest.approx(0.06)


def test_the_quartiles_of_a_month_are_the_same_to_the_last_digit_whoever_stands_beside_it() -> None:
    players = [shots(f"p{k:02d}", date(2026, 1, 1), 13, seed=k) for k in range(60)]
    together = quartiles_by_month(pl.concat(players))
    assert pl.concat([quartiles_by_month(own) for own in players]).equals(together)
