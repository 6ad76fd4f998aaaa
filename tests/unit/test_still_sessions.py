"""Sessions in still air: carry of each that has one, with a direction or without."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from pipelines.stages.measure.patterns import swing_rows
from schemas.core.summaries import STILL_SESSION

DAY = dt.date(2026, 3, 2)
N_SHOTS = 12


def swings(session_id: str, *, has_direction: bool) -> pl.DataFrame:
    carries = [200.0 + shot % 5 for shot in range(N_SHOTS)]
    sides = [float(shot % 7 - 3) if has_direction else None for shot in range(N_SHOTS)]
    return pl.DataFrame({"carry_m": carries, "offline_m": sides}, schema_overrides={"offline_m": pl.Float64}).with_columns(
        pl.lit("p1").alias("player_id"),
        pl.lit(session_id).alias("session_id"),
        pl.lit(DAY).alias("on_date"),
        pl.lit(DAY.replace(day=1)).alias("month_on"),
        *(pl.lit("driver").alias(name) for name in ("club", "club_group")),
        *(pl.col("carry_m").alias(f"carry_{name}_m") for name in ("pooled", "bearman_harvey")),
        *(pl.lit(None, dtype=pl.Float64).alias(name) for name in ("strike_side_mm", "strike_height_mm", "direction_deg")),
        pl.lit(45.0).alias("club_speed_mps"),
        pl.lit(1.45).alias("comparable_speed_ratio"),
        pl.lit(13.0).alias("launch_deg"),
        pl.lit(2600.0).alias("spin_rpm"),
        pl.lit(value=True).alias("is_factor_known"),
        pl.lit("bay-1").alias("device_id"),
    )


def test_a_session_without_a_direction_has_its_carry_restated_as_one_with_it() -> None:
    shots = pl.concat([swings("s1", has_direction=True), swings("s2", has_direction=False)])
    told = swing_rows({"swings": shots})[STILL_SESSION.name].sort("session_id")
    assert told["session_id"].to_list() == ["s1", "s2"]
    assert told["carry_m_centre"].to_list() == pytest.approx([sum(200.0 + shot % 5 for shot in range(N_SHOTS)) / N_SHOTS] * 2)
    assert told["carry_m_n"].to_list() == [N_SHOTS, N_SHOTS]
    assert told["offline_m_n"].to_list() == [N_SHOTS, 0]
    assert told["offline_m_centre"].null_count() == 1
