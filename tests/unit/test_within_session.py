"""Balls until full speed and tiring, on simulated players; and when nothing is said."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest

from pipelines.measures.within_session import within_sessions
from schemas.core.summaries import WITHIN_SESSION


def practice(player: str, seed: int, cold: float = 0.0, tiring: float = 0.0, sessions: int = 24, n: int = 45) -> pl.DataFrame:
    """Drives of one player: cold start [%] gone after some 15 balls, tiring [% each ten balls] from ball 25."""
    rng = np.random.default_rng(seed)
    session = np.repeat(np.arange(sessions), n)
    ball = np.tile(np.arange(1, n + 1), sessions)
    log = cold * np.exp(-(ball - 1) / 5) + tiring * np.maximum(ball - 25, 0) / 10
    log = log + rng.normal(0, 0.7, sessions)[session] + rng.normal(0, 1.4, len(ball))
    return pl.DataFrame(
        {
            "player_id": [player] * len(ball),
            "session_id": [f"{player}-{one:03d}" for one in session],
            "ball_no": ball,
            "club_speed_mps": 45.0 * np.exp(log / 100),
        }
    )


def found(*players: pl.DataFrame) -> dict[str, dict[str, Any]]:
    rows = within_sessions(pl.concat(players), WITHIN_SESSION.polars_schema())
    return {row["player_id"]: row for row in rows.iter_rows(named=True)}


def test_a_cold_start_and_tiring_come_back() -> None:
    row = found(practice("p", 1, cold=-3.0, tiring=-0.8), practice("q", 2, cold=-2.0))["p"]
    assert row["cold_low_pct"] <= -3.0 <= row["cold_high_pct"] < 0
    assert row["full_from_ball"] == pytest.approx(1 + 5 * np.log(3.0 / 0.5), abs=4)
    assert row["tired_low_pct"] <= -0.8 <= row["tired_high_pct"] < 0
    assert (row["n_sessions"], row["n_balls"], row["tired_from_ball"]) == (24, 24 * 45, 25)


def test_a_player_who_is_warm_and_fresh_is_told_nothing_nineteen_times_in_twenty() -> None:
    rows = [found(practice("p", seed))["p"] for seed in range(60)]
    assert np.mean([row["full_from_ball"] is not None for row in rows]) <= 0.08
    assert np.mean([row["tired_high_pct"] < 0 and row["tired_pct"] <= -0.2 for row in rows]) <= 0.08


def test_the_intervals_hold_nine_times_in_ten() -> None:
    rows = [
        found(practice("p", seed, cold=-2.0, tiring=-0.5), practice("q", seed + 999, cold=-2.0, tiring=-0.5))
        for seed in range(80)
    ]
    held = [row["p"]["cold_low_pct"] <= -2.0 <= row["p"]["cold_high_pct"] for row in rows]
    assert np.mean(held) >= 0.80


def test_too_few_sessions_or_short_ones_say_nothing() -> None:
    assert found(practice("p", 1, sessions=7)) == {}
    row = found(practice("p", 1, n=20))["p"]
    assert (row["tired_pct"], row["n_late_balls"]) == (None, 0)


def test_drives_that_come_late_in_a_session_say_nothing_of_its_first_balls() -> None:
    swings = practice("p", 1, cold=-3.0)
    row = found(swings.filter(pl.col("ball_no") > 14))["p"]
    assert (row["cold_pct"], row["full_from_ball"], row["n_early_balls"]) == (None, None, 0)


def test_balls_without_a_reading_are_left_out_and_nobody_is_no_fault() -> None:
    swings = practice("p", 1)
    holes = swings.with_columns(pl.when(pl.col("ball_no") % 7 != 3).then("club_speed_mps").alias("club_speed_mps"))
    assert found(holes)["p"]["n_balls"] < swings.height
    assert found(swings.clear()) == {}
