"""Facts of the trade (common practice, no source), side effects, and small simulated trials with a fixed seed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from pipelines.measures.strokes import DrivePattern, expected_strokes
from pipelines.measures.trial.analysis import TrialAnalysis, trial_analysis
from pipelines.measures.trial.cost import CourseCost
from pipelines.measures.trial.design import trial_design
from pipelines.measures.trial.noise import PlayerNoise
from pipelines.measures.trial.shots import TrialQuestion
from schemas.course import OPEN_COURSE, TREE_LINED_COURSE
from tests.reference.simulated_trials import TrueChange, simulated_trial

QUESTION = TrialQuestion("t1", "p1", "wider stance", "normal", ("normal", "wider"))
TREES = {"tree-lined": CourseCost(TREE_LINED_COURSE, "80", 18.0)}
MARKED = frozenset({"day-1", "day-2", "day-3", "day-4"})


def trial(change: TrueChange, seed: int, noise: PlayerNoise | None = None, shots: int = 40) -> TrialAnalysis:
    design = trial_design(("normal", "wider"), "normal", shots, seed)
    rng = np.random.default_rng(seed)
    frame = simulated_trial(design, noise or PlayerNoise(), {"wider": change}, rng)
    return trial_analysis(frame, QUESTION, TREES, "tree-lined", rng, warm_up_sessions=MARKED, metrics=("club_speed_mps",))


def words(change: TrueChange, n: int = 30, **options) -> Counter[str]:
    return Counter(trial(change, seed, **options).verdicts["wider"].word for seed in range(n))


def test_no_effect_is_hardly_ever_kept_or_given_up():
    # the full table (2,000 trials a cell) is in tests/benchmarks; at 30 trials of a 1 % event, 3 or more has p < .004
    assert words(TrueChange())["keep testing"] >= 28


def test_two_percent_at_the_same_scatter_is_mostly_kept():
    # true rate above .85: fewer than 20 of 30 has p < .01
    assert words(TrueChange(2.0))["keep"] >= 20


def test_two_percent_with_double_scatter_is_never_kept_among_trees():
    found = words(TrueChange(2.0, left_right=2.0))
    assert found["keep"] == 0
    assert found["go back"] >= 18


def test_four_miles_an_hour_with_balls_in_both_roughs_is_not_kept_after_a_handful_of_shots():
    # common practice: 4 mph on 100 mph, scatter doubled, ten shots an arm
    found = words(TrueChange(4.0, left_right=2.0), noise=PlayerNoise(club_speed_mps=44.7), shots=10)
    assert found["keep"] == 0
    assert found["keep testing"] >= 28


def test_one_and_a_half_mph_is_worth_three_to_five_yards_and_a_small_gain_in_strokes():
    # common practice: near 100 mph, 1.5 mph at unchanged scatter is worth about 3-5 yards; carry follows speed by 1.25 to 1
    base = DrivePattern(215.0, 0.0, 9.0, 3.4)
    longer = replace(base, total_m=215.0 * (1 + 1.25 * 1.5 / 100))
    yards = (longer.total_m - base.total_m) / 0.9144
    assert 3 <= yards <= 5
    for course in (OPEN_COURSE, TREE_LINED_COURSE):
        gain = expected_strokes(base, course).per_round - expected_strokes(longer, course).per_round
        assert 0.05 < gain < 0.6


def test_the_estimate_of_carry_agrees_with_the_speed_gained():
    # the same chain in a simulated trial: 1.5 % of speed is 1.9 % of carry, within the interval of a long trial
    found = trial(TrueChange(1.5), 5, shots=120)
    carry = [pattern.carry_m for pattern in found.patterns]
    assert carry[1] - carry[0] == pytest.approx(215 * 1.25 * 1.5 / 100, abs=3.0)


def test_a_side_effect_is_found_and_what_did_not_move_is_not_named():
    design = trial_design(("normal", "wider"), "normal", 40, 2)
    rng = np.random.default_rng(2)
    frame = simulated_trial(design, PlayerNoise(), {"wider": TrueChange(2.0)}, rng)
    moved = pl.when(pl.col("arm") == "wider").then(-2.5).otherwise(0.0)
    frame = frame.with_columns(
        (pl.Series(rng.normal(1.0, 1.2, len(frame))) + moved).alias("path_deg"),
        pl.Series("attack_deg", rng.normal(0.5, 1.2, len(frame))),
    )
    found = trial_analysis(frame, QUESTION, TREES, "tree-lined", rng, warm_up_sessions=MARKED)
    path, attack = found.effect("wider", "path_deg"), found.effect("wider", "attack_deg")
    assert path is not None
    assert attack is not None
    assert path.less > 0.99
    assert path.low < -2.5 < path.high
    assert attack.more + attack.less < 0.2  # of a change of 0.6 degrees or more, as trends and flags have it
    assert path.randomisation is not None
    assert path.randomisation.p_value < 0.02


def test_dose_response_over_ordered_arms_with_normal_in_the_middle():
    question = TrialQuestion("t2", "p1", "ball position", "normal", ("back", "normal", "forward"))
    design = trial_design(question.arms, "normal", 40, 7)
    rng = np.random.default_rng(7)
    changes = {"back": TrueChange(-1.5), "forward": TrueChange(1.5)}
    found = trial_analysis(
        simulated_trial(design, PlayerNoise(), changes, rng), question, TREES, "tree-lined", rng,
        warm_up_sessions=MARKED, metrics=("club_speed_mps",),
    )  # fmt: skip
    (dose,) = found.doses
    assert dose.rising > 0.99
    assert dose.low < 0.015 * 45 < dose.high
    assert set(found.verdicts) == {"back", "forward"}
    assert found.best_arm == "forward"


def test_the_same_shots_give_the_same_result():
    first, second = trial(TrueChange(1.0), 4), trial(TrueChange(1.0), 4)
    assert first.effect("wider", "club_speed_mps") == second.effect("wider", "club_speed_mps")
    assert first.strokes["tree-lined"][1].mean == second.strokes["tree-lined"][1].mean


def test_shots_that_were_never_blocked_are_analysed_with_their_weakness():
    design = trial_design(("normal", "wider"), "normal", 20, 6)
    frame = simulated_trial(design, PlayerNoise(), {"wider": TrueChange(2.0)}, np.random.default_rng(6))
    one_after_the_other = frame.sort("session_id", "arm", maintain_order=True).with_columns(
        pl.lit(None, dtype=pl.Int64).alias("block_no"), pl.col("struck_at").sort()
    )
    found = trial_analysis(
        one_after_the_other, QUESTION, TREES, "tree-lined", np.random.default_rng(6),
        warm_up_sessions=MARKED, metrics=("club_speed_mps",),
    )  # fmt: skip
    mixed = trial(TrueChange(2.0), 6, shots=20).effect("wider", "club_speed_mps")
    effect = found.effect("wider", "club_speed_mps")
    assert "not_random" in found.soundness.notes
    assert effect is not None
    assert mixed is not None
    assert effect.high - effect.low > mixed.high - mixed.low
    assert effect.randomisation is None
