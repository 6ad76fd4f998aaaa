from __future__ import annotations

import math

import polars as pl
import pytest

from pipelines.measures.trend.observations import natural, observations_of, swings_for, usual_swings, with_noise
from schemas.trend_metrics import TREND_METRICS
from tests.unit.trend_world import observations, summaries


def test_relative_quantities_are_logarithms_in_per_cent_and_come_back() -> None:
    rows = summaries(1, 1, 3)
    seen = observations(rows).filter(pl.col("metric") == "club_speed_mps")
    speed = rows["club_speed_mps_centre"].to_list()
    assert seen["x"].to_list() == pytest.approx([100.0 * math.log(value) for value in speed])
    back = seen.select(natural(pl.col("x"), pl.col("metric")))["x"].to_list()
    assert back == pytest.approx(speed)


def test_a_quantity_is_told_by_its_own_columns_alone() -> None:
    swings = usual_swings(summaries(7, 2, 12))
    assert {name for metric in TREND_METRICS for name in swings_for(swings, [metric]).columns} == set(
        swings_for(swings, list(TREND_METRICS)).columns
    )
    for metric in TREND_METRICS:
        assert observations_of(swings_for(swings, [metric]), metric).equals(observations_of(swings, metric))
    assert len(swings_for(swings, ["attack_deg"]).columns) < len(swings.columns) / 3


def test_aim_is_the_angle_of_the_middle_of_the_pattern() -> None:
    rows = summaries(2, 1, 1).with_columns(pl.lit(10.0).alias("offline_m_centre"), pl.lit(200.0).alias("carry_m_centre"))
    aim = observations(rows).filter(pl.col("metric") == "aim_deg")
    assert aim["x"][0] == pytest.approx(math.degrees(math.atan(0.05)))


def test_speed_work_putts_and_other_clubs_are_left_out() -> None:
    assert observations(summaries(3, 1, 2, session_kind="speed")).is_empty()
    assert observations(summaries(3, 1, 2, club_group="putter")).is_empty()
    assert observations(summaries(3, 1, 2, is_usual_club=False)).is_empty()


def test_too_few_shots_say_nothing() -> None:
    rows = summaries(4, 1, 2).with_columns(pl.lit(2, dtype=pl.Int64).alias("club_speed_mps_n"))
    assert observations(rows).filter(pl.col("metric") == "club_speed_mps").is_empty()


def test_scatter_is_a_standard_deviation_when_the_pattern_is_normal() -> None:
    # mean absolute deviation of a normal distribution: sqrt(2/pi) SD
    rows = summaries(5, 1, 1).with_columns(pl.lit(math.log(14.0 * math.sqrt(2.0 / math.pi))).alias("offline_m_log_mad"))
    seen = observations(rows).filter(pl.col("metric") == "scatter_side_m")
    assert seen.select(natural(pl.col("x"), pl.col("metric")))["x"][0] == pytest.approx(14.0)


def test_noise_leans_on_the_squad_when_shots_are_few() -> None:
    rows = pl.DataFrame({"n": [2, 1000], "shot_sd": [6.0, 6.0], "squad_shot_sd": [1.5, 1.5]})
    few, many = with_noise(rows)["noise"].to_list()
    assert few == pytest.approx((20 * 1.5**2 + 36.0) / 21 / 2)
    assert many == pytest.approx(36.0 / 1000, rel=0.02)


def test_restated_carry_is_used_where_it_is_there() -> None:
    rows = summaries(6, 1, 1).with_columns(
        pl.lit(20, dtype=pl.Int64).alias("comparable_carry_m_n"),
        pl.lit(211.0).alias("comparable_carry_m_centre"),
        pl.lit(8.0).alias("comparable_carry_m_spread"),
    )
    carry = observations(rows).filter(pl.col("metric") == "comparable_carry_m")
    assert carry.select(natural(pl.col("x"), pl.col("metric")))["x"][0] == pytest.approx(211.0)
