"""What cold and tired balls take from session levels: told from speed when sessions get shorter, never by looking ahead."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipelines.measures.estimates import Estimates
from pipelines.measures.session_balls import ball_sums, balls_effect

START = dt.date(2025, 1, 6)
N_PLAYERS, N_SESSIONS, COLD, TIRING = 30, 100, -2.5, -0.5


def practice(seed: int, cold: float = COLD, tiring: float = TIRING, shortest: int = 12) -> pl.DataFrame:
    """A squad over 300 days whose sessions shrink from 70 balls to ``shortest``; nobody's speed changes."""
    rng = np.random.default_rng(seed)
    n = np.interp(np.arange(N_SESSIONS), (25, 75), (70, shortest)).astype(int)
    session = np.tile(np.repeat(np.arange(N_SESSIONS), n), N_PLAYERS)
    player = np.repeat(np.arange(N_PLAYERS), n.sum())
    ball = np.tile(np.concatenate([np.arange(1, one + 1) for one in n]), N_PLAYERS)
    own_cold, own_tiring = (one * rng.uniform(0.4, 1.6, N_PLAYERS)[player] for one in (cold, tiring))
    log = rng.normal(0, 0.7, (N_PLAYERS, N_SESSIONS))[player, session] + rng.normal(0, 1.5, ball.size)
    log += own_cold * np.exp(-(ball - 1) / 5) + own_tiring * np.maximum(ball - 40, 0) / 10
    names = [f"p{one:02d}" for one in range(N_PLAYERS)]
    return pl.DataFrame(
        {
            "player_id": pl.Series(names).gather(player),
            "session_id": pl.Series([f"{name}-{one:03d}" for name in names for one in range(N_SESSIONS)]).gather(
                player * N_SESSIONS + session
            ),
            "on_date": pl.Series([START + dt.timedelta(days=3 * one) for one in range(N_SESSIONS)]).gather(session),
            "ball_no": ball,
            "club_speed_mps": 45.0 * np.exp(log / 100),
            "counts": ball > 2,
        }
    )


def effect_of(squad: pl.DataFrame) -> pl.DataFrame:
    return balls_effect(ball_sums(squad), Estimates())


SQUAD = practice(1)
EFFECT = effect_of(SQUAD)


def changes(squad: pl.DataFrame, effect: pl.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Change of each player's level [%] from the long sessions to the short ones: as measured, and with the balls taken off."""
    of_session = (
        squad.filter("counts")
        .group_by("player_id", "session_id")
        .agg(pl.col("on_date").first(), (100.0 * pl.col("club_speed_mps").log()).mean().alias("level"))
    )
    rows = of_session.join(effect, on=["player_id", "session_id"]).with_columns(
        evened=pl.col("level") - pl.col("within_pct"),
        late=pl.col("on_date") >= START + dt.timedelta(days=225),
        early=pl.col("on_date") < START + dt.timedelta(days=75),
    )
    told = rows.group_by("player_id").agg(
        (pl.col(name).filter("late").mean() - pl.col(name).filter("early").mean()).alias(name) for name in ("level", "evened")
    )
    return told["level"].to_numpy(), told["evened"].to_numpy()


def test_a_squad_whose_sessions_get_shorter_shows_no_change_of_speed() -> None:
    measured, evened = changes(SQUAD, EFFECT)
    error = evened.std() / np.sqrt(N_PLAYERS)
    assert abs(measured.mean()) > 0.2  # what the pages showed before
    assert abs(evened.mean()) < 2.6 * error
    assert evened.std() <= measured.std() * 1.1


def test_the_last_balls_of_long_sessions_are_no_loss_and_the_first_of_short_ones_neither() -> None:
    """Cold start alone makes short sessions slow, tiring alone makes long ones slow: each is taken off with its sign."""
    for cold, tiring, sign in ((COLD, 0.0, -1.0), (0.0, TIRING, 1.0)):
        squad = practice(2, cold, tiring)
        measured, evened = changes(squad, effect_of(squad))
        assert sign * measured.mean() > 0.2
        assert abs(evened.mean()) < 0.15


def test_a_row_for_each_session_with_a_counting_ball_and_none_looks_ahead() -> None:
    assert EFFECT.height == N_PLAYERS * N_SESSIONS
    assert EFFECT["within_pct"].null_count() == 0
    until = START + dt.timedelta(days=200)
    shorter = effect_of(SQUAD.filter(pl.col("on_date") <= until))
    kept = EFFECT.join(shorter.select("player_id", "session_id"), on=["player_id", "session_id"], how="semi")
    assert_frame_equal(shorter, kept, rel_tol=1e-9, abs_tol=1e-9)


def test_nothing_is_taken_off_before_five_players_are_known_or_where_sessions_stay_as_they_were() -> None:
    few = effect_of(SQUAD.filter(pl.col("player_id").is_in(["p00", "p01", "p02", "p03"])))
    assert few["within_pct"].to_list() == [0.0] * few.height
    same = effect_of(SQUAD.filter(pl.col("ball_no") <= 12))
    assert same["within_pct"].to_list() == pytest.approx([0.0] * same.height, abs=1e-9)


def test_a_session_of_which_no_ball_counts_has_no_row_and_nobody_is_no_fault() -> None:
    none_counts = SQUAD.with_columns(counts=pl.col("counts") & (pl.col("session_id") != "p00-003"))
    assert effect_of(none_counts).height == EFFECT.height - 1
    assert effect_of(SQUAD.clear()).is_empty()


def test_a_quarter_in_which_nobody_swung_stops_nothing() -> None:
    """A squad that is away for eight months comes back: a quarter between has a course and no session."""
    back = START + dt.timedelta(days=200)
    away = SQUAD.with_columns(
        on_date=pl.when(pl.col("on_date") > back).then(pl.col("on_date") + pl.duration(days=250)).otherwise("on_date")
    )
    told = effect_of(away)
    assert told.height == EFFECT.height
    before = away.filter(pl.col("on_date") <= back)["session_id"].unique().implode()
    same = pl.col("session_id").is_in(before)
    assert_frame_equal(told.filter(same), EFFECT.filter(same))
