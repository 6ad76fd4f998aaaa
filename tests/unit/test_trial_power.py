from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipelines.measures.trial.cost import CourseCost
from pipelines.measures.trial.design import trial_design
from pipelines.measures.trial.noise import PlayerNoise, own_noise
from pipelines.measures.trial.power import power_row, proposed_shots, smallest_scatter, worthwhile_chance
from schemas.course import TREE_LINED_COURSE
from tests.reference.simulated_trials import simulated_trial

EMPTY = pl.DataFrame(
    schema={
        "session_id": pl.String,
        "shot_no": pl.Int64,
        "club_speed_mps": pl.Float64,
        "carry_m": pl.Float64,
        "offline_m": pl.Float64,
    }
)


def test_a_player_without_history_gets_the_assumption_and_is_told_so():
    found = own_noise(EMPTY)
    assert found.noise == PlayerNoise()
    assert found.assumed == ("speed", "session", "carry", "offline")


def test_own_noise_comes_back_from_simulated_sessions():
    true = PlayerNoise(
        speed_cv_pct=1.2, session_cv_pct=0.6, correlation=0.2, drift_pct=0.0, carry_sd_m=7.0, offline_sd_m=16.0, mishit_rate=0.06
    )
    rng = np.random.default_rng(12)
    parts = [
        simulated_trial(trial_design(("normal", "same"), "normal", 40, seed), true, {}, rng).with_columns(
            pl.format("{}-{}", pl.lit(seed), "session_id").alias("session_id")
        )
        for seed in range(12)
    ]
    found = own_noise(pl.concat(parts)).noise
    assert found.speed_cv_pct == pytest.approx(1.2, rel=0.06)
    assert found.session_cv_pct == pytest.approx(0.6, rel=0.4)
    assert found.correlation == pytest.approx(0.2, abs=0.07)
    assert found.offline_sd_m == pytest.approx(16.0, rel=0.12)
    # carry also holds the shot's speed: sqrt(7^2 + (215 x 1.25 x 1.2 %)^2) = 7.7
    assert found.carry_sd_m == pytest.approx(7.7, rel=0.15)
    assert found.mishit_rate == pytest.approx(0.06, abs=0.025)


def test_more_noise_asks_for_more_shots_and_more_shots_show_smaller_changes():
    quiet, loud = PlayerNoise(speed_cv_pct=1.0), PlayerNoise(speed_cv_pct=2.0)
    assert 20 <= proposed_shots(quiet) < proposed_shots(loud) <= 120
    assert worthwhile_chance(quiet, proposed_shots(quiet), 2.0) >= 0.85
    assert smallest_scatter(20) > smallest_scatter(80) > 1.2
    assert smallest_scatter(40, 0.08) > smallest_scatter(40)


def test_eighty_shots_cannot_show_half_a_stroke_a_round():
    row = power_row(PlayerNoise(), 40, CourseCost(TREE_LINED_COURSE, "80", 18.0), np.random.default_rng(2))
    assert row.smallest_strokes is not None
    assert row.smallest_strokes > 0.5
    assert power_row(PlayerNoise(), 40, None, np.random.default_rng(2)).smallest_strokes is None
