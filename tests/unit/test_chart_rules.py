from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import LISTED_AT, chart_candidates, stall_candidates
from pipelines.measures.trend.assembly import Trends, trends
from tests.unit.trend_world import summaries

N_PLAYERS, N_SESSIONS = 10, 80


@pytest.fixture(scope="module")
def fallen() -> Trends:
    """The first player loses 3 % at session 50; the second only .3 %."""
    share = np.zeros((N_PLAYERS, N_SESSIONS))
    share[0, 50:], share[1, 50:] = -0.03, -0.003
    return trends(summaries(1, N_PLAYERS, N_SESSIONS, speed_share=share))


def of_kind(said: pl.DataFrame, kind: str, player: str) -> pl.DataFrame:
    return said.filter(pl.col("kind") == kind, pl.col("player_id") == player)


def test_a_fall_opens_after_it_began_and_not_before(fallen: Trends) -> None:
    said = of_kind(chart_candidates(fallen.points), "speed_fall", "p00")
    opened = said.filter(pl.col("opens"))
    session = int(opened["sources"][0][-1].split("-")[1])
    assert 50 <= session <= 57
    row = opened.row(0, named=True)
    assert row["value"] < row["baseline"]
    assert row["low"] < row["value"] < row["high"]
    assert row["p_value"] < 0.01


def test_a_fall_that_is_not_worth_while_does_not_open(fallen: Trends) -> None:
    assert not of_kind(chart_candidates(fallen.points), "speed_fall", "p01")["opens"].any()


def test_the_sources_are_the_last_sessions_up_to_the_night(fallen: Trends) -> None:
    row = of_kind(chart_candidates(fallen.points), "speed_fall", "p00").filter(pl.col("opens")).row(0, named=True)
    assert len(row["sources"]) == 8
    last = fallen.points.filter(pl.col("session_id") == row["sources"][-1])["on_date"][0]
    assert last == row["on_date"]


def test_the_number_of_tests_is_told(fallen: Trends) -> None:
    said = chart_candidates(fallen.points).filter(pl.col("kind") == "speed_fall")
    assert said["n_players"].max() == N_PLAYERS
    assert set(said["n_streams"]) == {1}


def test_one_row_per_stream_and_night(fallen: Trends) -> None:
    said = chart_candidates(fallen.points)
    assert said.unique(["player_id", "on_date", "kind", "metric", "club_group"]).height == said.height


def test_a_rise_that_stops_is_a_stall() -> None:
    share = np.zeros((N_PLAYERS, 110))
    share[0] = 0.05 * np.clip((np.arange(110) - 20) / 40.0, 0.0, 1.0)
    said = stall_candidates(trends(summaries(3, N_PLAYERS, 110, speed_share=share)).points)
    opened = said.filter(pl.col("player_id") == "p00", pl.col("opens"))
    assert opened.height >= 1
    first = int(opened["sources"][0][-1].split("-")[1])
    assert 60 <= first <= 90


def test_a_stall_without_a_session_four_weeks_ago_has_no_change_among_its_reasons(fallen: Trends) -> None:
    """All sessions of a rise may lie within four weeks of a bend; such a row once stopped the night."""
    unknown = fallen.points.with_columns(pl.lit(0.0001).alias("p_stall"), pl.lit(None, dtype=pl.Float64).alias("change_28"))
    assert stall_candidates(unknown)["reasons"].list.len().max() == 0


def test_of_one_who_grows_a_small_change_and_a_stall_stay_notices(fallen: Trends) -> None:
    """A spurt, and growth that slows down after it, are no finding: an alert needs 2 % more, a stall is none."""
    smaller = fallen.points.with_columns(pl.col("level") + 0.8)
    growing = smaller.with_columns(pl.lit(3.0).alias("growth"), pl.lit(0.0001).alias("p_stall"))
    assert of_kind(chart_candidates(smaller), "speed_fall", "p00")["p_value"].min() < 0.0005  # type: ignore[operator]
    fall = of_kind(chart_candidates(growing), "speed_fall", "p00")
    assert fall["opens"].any()
    assert fall["p_value"].min() >= LISTED_AT  # type: ignore[operator]
    stall = stall_candidates(growing)
    assert stall["opens"].any()
    assert stall["p_value"].min() >= LISTED_AT  # type: ignore[operator]
