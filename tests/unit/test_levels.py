from __future__ import annotations

import datetime as dt

import polars as pl

from pipelines.measures.baseline.levels import baselines
from pipelines.measures.trend.assembly import trends
from tests.unit.trend_world import START, summaries


def test_who_has_few_sessions_is_drawn_further_toward_the_squad() -> None:
    rows = summaries(1, 8, 30)
    newcomer = (pl.col("player_id") != "p00") | (pl.col("session_id") >= "s00-028")
    points = trends(rows.filter(newcomer)).points
    found = baselines(points, START + dt.timedelta(days=60), 8).filter(pl.col("metric") == "club_speed_mps").sort("player_id")
    assert found["learning"].to_list() == [True] + [False] * 7
    assert found["squad_share"][0] > 5 * found["squad_share"][1]
    assert (found["level_low"] < found["level"]).all()
    assert (found["level"] < found["level_high"]).all()


def test_two_players_stand_as_they_are() -> None:
    found = baselines(trends(summaries(2, 2, 12)).points, START + dt.timedelta(days=30), 8)
    assert found["squad_share"].null_count() == found.height
    assert (found["own_level"] - found["level"]).abs().max() < 1e-9


def test_what_is_older_than_twelve_weeks_does_not_count() -> None:
    points = trends(summaries(3, 3, 12)).points
    assert baselines(points, START + dt.timedelta(days=300), 8).is_empty()
