from __future__ import annotations

import numpy as np
import polars as pl

from pipelines.measures.trend.assembly import in_natural_units, trends
from schemas.core.summaries import SESSION_CLUB
from schemas.core.trends import TREND_POINT
from tests.unit.trend_world import summaries


def test_every_observation_is_a_point_with_the_columns_of_the_table() -> None:
    points = in_natural_units(trends(summaries(1, 3, 20)).points)
    assert set(points.columns) == set(TREND_POINT.names)
    assert points.group_by("metric").len()["len"].unique().to_list() == [60]
    required = [column.name for column in TREND_POINT.columns if column.required]
    assert points.select(required).null_count().sum_horizontal()[0] == 0


def test_the_level_follows_a_confirmed_shift_faster_than_without_dating() -> None:
    share = np.zeros((8, 70))
    share[0, 40:] = -0.04
    result = trends(summaries(2, 8, 70, speed_share=share))
    speed = result.points.filter(pl.col("metric") == "club_speed_mps", pl.col("player_id") == "p00")
    shift = result.shifts.filter(pl.col("metric") == "club_speed_mps", pl.col("player_id") == "p00").row(0, named=True)
    assert not shift["upward"]
    onset = speed["on_date"][40]
    assert abs((shift["began_on"] - onset).days) <= 6
    after = speed.filter(pl.col("on_date") >= shift["found_on"])
    assert abs(after["level"][3] - speed["x"][40:].mean()) < 0.8


def test_learning_until_there_are_eight_sessions() -> None:
    points = trends(summaries(3, 3, 12)).points.filter(pl.col("metric") == "club_speed_mps", pl.col("player_id") == "p01")
    assert points["state"].to_list()[:8] == ["learning"] * 8
    assert "learning" not in points["state"].to_list()[8:]


def test_another_device_of_one_player_begins_its_own_series() -> None:
    device = np.full((6, 40), "bay-1", dtype=object)
    device[0, 20:] = "bay-9"
    share = np.zeros((6, 40))
    share[0, 20:] = 0.015
    points = trends(summaries(4, 6, 40, device=device.astype(str), speed_share=share)).points
    own = points.filter(pl.col("player_id") == "p00", pl.col("metric") == "club_speed_mps").sort("on_date")
    assert set(own["series"][:18]) <= {"", "bay-1"}
    assert own["series"].to_list()[20:] == ["bay-9"] * 20
    assert own["chart_up"][20] == 0.0


def test_no_summaries_give_empty_results() -> None:
    result = trends(pl.DataFrame(schema=SESSION_CLUB.polars_schema()))
    assert in_natural_units(result.points).is_empty()
    assert result.shifts.is_empty()
    assert result.norms.is_empty()
