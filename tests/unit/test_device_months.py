"""What a device reads too much is taken off strokes and map as off the trends, and its error is carried."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import polars as pl
import pytest

from pipelines.measures.device.months import METRICS, device_months
from pipelines.measures.device.months import without_devices as taken_off
from pipelines.measures.strokes.months import strokes_by_month, with_neighbours
from pipelines.measures.tradeoff.maps import newest_patterns
from schemas.core.ball import STROKE_MONTH
from schemas.course import DEFAULT_COURSES
from tests.unit.test_month_patterns import shots, table

HIGH = 100.0 * math.log(1.024)
"""The new device reads 2.4 % high."""
LONGER = ("club_speed_mps", "carry_m", "carry_pooled_m", "carry_bearman_harvey_m", "run_m")
LONGER_METRICS = ("club_speed_mps", "comparable_carry_m")
SEASON = [(2025, month) for month in range(1, 7)] + [(2025, month) for month in (10, 11, 12)]


def read(new_from: tuple[int, int]) -> pl.DataFrame:
    """A player who never changed, read by a device that is 2.4 % high from a month on."""
    frames = []
    for year, month in SEASON:
        factor = 1.024 if (year, month) >= new_from else 1.0
        own = shots("a", date(year, month, 1), 80, seed=1)
        frames.append(own.with_columns(pl.col(*LONGER) * factor))
    return table(*frames).drop("device_error_m")


def sessions(new_from: tuple[int, int], offset: float = HIGH, **other: Any) -> pl.DataFrame:
    rows = [
        {"player_id": "a", "club": "driver", "metric": metric, "on_date": date(year, month, day), "device_id": device, "n": 20}
        | {"offset": offset if device == "new" and metric in LONGER_METRICS else 0.0}
        | other
        for year, month in SEASON
        for day in (1, 2, 3, 4)
        for metric in METRICS
        for device in ["new" if (year, month) >= new_from else "old"]
    ]
    return pl.DataFrame(rows)


def offsets(error: float | None = 0.2) -> pl.DataFrame:
    rows = [{"device_id": "new", "metric": metric, "from_on": date(2025, 1, 1), "error": error} for metric in METRICS]
    return pl.DataFrame(rows, schema_overrides={"error": pl.Float64})


def without_devices(patterns: pl.DataFrame, struck: pl.DataFrame, known: pl.DataFrame) -> pl.DataFrame:
    return taken_off(patterns, device_months(struck, known))


def last_change(patterns: pl.DataFrame) -> dict[str, Any]:
    found = strokes_by_month(with_neighbours(patterns), {"a": "80"}, DEFAULT_COURSES[:1], STROKE_MONTH.polars_schema())
    return found.tail(1).row(0, named=True)


def test_a_new_device_saves_no_strokes() -> None:
    changed = (2025, 10)
    raw = last_change(read(changed).with_columns(device_error_m=0.0))
    assert raw["change_speed_mps"] == pytest.approx(1.08, abs=0.01)
    assert raw["change_distance"] < -0.1
    told = last_change(without_devices(read(changed), sessions(changed), offsets()))
    assert told["change_speed_mps"] == pytest.approx(0.0, abs=1e-9)
    assert told["change_distance"] == pytest.approx(0.0, abs=1e-3)


def test_the_map_stands_where_the_level_is() -> None:
    changed = (2025, 10)
    here = newest_patterns(without_devices(read(changed), sessions(changed), offsets())).row(0, named=True)
    before = newest_patterns(without_devices(read((2026, 1)), sessions((2026, 1)), offsets())).row(0, named=True)
    for name in ("club_speed_mps", "speed_ratio", "launch_deg"):
        assert here[name] == pytest.approx(before[name])


def test_the_error_of_an_offset_counts_between_devices_and_not_within_one() -> None:
    changed, always = (2025, 10), (2025, 1)
    between = last_change(without_devices(read(changed), sessions(changed), offsets(3.0)))["change_error"]
    exact = last_change(without_devices(read(changed), sessions(changed), offsets(None)))["change_error"]
    assert between > 1.05 * exact
    within = last_change(without_devices(read(always), sessions(always), offsets(3.0)))["change_error"]
    assert within == pytest.approx(
        last_change(without_devices(read(always), sessions(always), offsets(None)))["change_error"], rel=1e-4
    )


def test_a_month_of_two_devices_takes_their_mean_by_shots_and_each_the_offset_of_its_day() -> None:
    patterns = read((2026, 1)).tail(1)
    rows = sessions((2025, 1)).filter(pl.col("on_date") >= date(2025, 12, 1))
    mixed = rows.with_columns(
        pl.when(pl.col("on_date").dt.day() > 1).then(0.0).otherwise("offset").alias("offset"),
        pl.when(pl.col("on_date").dt.day() > 1).then(pl.lit("old")).otherwise("device_id").alias("device_id"),
        pl.when(pl.col("on_date").dt.day() > 1).then(10).otherwise(30).alias("n"),
    )
    later = pl.concat([offsets(1.0), offsets(9.0).with_columns(from_on=date(2025, 12, 2))])
    found = without_devices(patterns, mixed, later).row(0, named=True)
    raw = patterns.row(0, named=True)
    assert found["carry_m"] == pytest.approx(raw["carry_m"] * math.exp(-HIGH / 200.0))
    assert found["device_error_m"] == pytest.approx(found["carry_m"] * 0.5 / 100.0)
    assert found["carry_sd_m"] == raw["carry_sd_m"]


def test_without_sessions_of_the_trends_a_month_is_left_as_it_was_read() -> None:
    patterns = read((2025, 10))
    found = without_devices(patterns, sessions((2025, 1)).clear(), offsets().clear())
    assert found.drop("device_error_m").equals(patterns)
    assert found["device_error_m"].to_list() == [0.0] * found.height
    blind = without_devices(
        patterns.with_columns(pl.lit(None, dtype=pl.Float64).alias("club_speed_mps")), sessions((2025, 1)), offsets()
    )
    assert blind["club_speed_mps"].null_count() == blind.height
