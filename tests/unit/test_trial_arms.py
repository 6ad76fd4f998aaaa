from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipelines.measures.trial.arms import landing
from pipelines.measures.trial.design import trial_design
from pipelines.measures.trial.noise import PlayerNoise
from pipelines.measures.trial.shots import TrialQuestion, trial_shots
from tests.reference.simulated_trials import TrueChange, simulated_trial

QUESTION = TrialQuestion("t", "p", "", "normal", ("normal", "wider"))


def struck(change: TrueChange, noise: PlayerNoise | None = None, shots: int = 60) -> pl.DataFrame:
    design = trial_design(("normal", "wider"), "normal", shots, 2)
    return simulated_trial(design, noise or PlayerNoise(), {"wider": change}, np.random.default_rng(2))


def test_pattern_of_each_arm_and_scatter_against_normal():
    found = landing(trial_shots(struck(TrueChange(0.0, left_right=2.0)), QUESTION))
    normal, wider = found.patterns
    assert normal.left_right is None
    assert wider.left_right is not None
    low, high = wider.left_right.interval()
    assert low < 2.0 < high
    assert wider.left_right.above(1.2) > 0.99
    assert normal.offline_sd_m == pytest.approx(13.0, rel=0.25)
    assert wider.ellipse.long_half > normal.ellipse.long_half


def test_what_differs_between_days_is_taken_out():
    frame = struck(TrueChange())
    moved = frame.with_columns(pl.col("offline_m") + pl.when(pl.col("session_id") == "day-2").then(25.0).otherwise(0.0))
    plain, shifted = (landing(trial_shots(one, QUESTION)).patterns for one in (frame, moved))
    for first, second in zip(plain, shifted, strict=True):
        assert second.offline_sd_m == pytest.approx(first.offline_sd_m, rel=0.02)


def test_mishits_are_counted_and_kept_apart():
    found = landing(trial_shots(struck(TrueChange(), PlayerNoise(mishit_rate=0.1), 120), QUESTION))
    for pattern in found.patterns:
        assert pattern.mishits is not None
        # one in ten by truth, some of them too good to tell; five standard errors of 120 shots
        assert 0.02 < pattern.mishits.rate < 0.2
        assert pattern.carry_sd_m < 15.0
    assert int((~found.core).sum()) == sum(pattern.n_mishits for pattern in found.patterns)


def test_without_places_there_is_no_pattern_and_every_shot_is_core():
    frame = struck(TrueChange()).with_columns(pl.lit(None, dtype=pl.Float64).alias("carry_m"))
    found = landing(trial_shots(frame, QUESTION))
    assert found.patterns == ()
    assert found.core.all()
