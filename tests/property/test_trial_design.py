"""A shot sheet is balanced, random, and the same again from its seed."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.trial.design import WARM_UP_SHOTS, trial_design

ARMS = st.integers(2, 4).map(lambda n: ("normal", "a little", "more", "a lot")[:n])


@given(arms=ARMS, shots=st.integers(10, 120), seed=st.integers(0, 2**31), days=st.integers(2, 4))
@settings(max_examples=40, deadline=None)
def test_every_round_holds_every_arm_once_and_every_day_ends_with_normal(arms, shots, seed, days):
    design = trial_design(arms, "normal", shots, seed, days)
    blocks = (
        design.shots.filter("counts")
        .group_by("day_no", "block_no", maintain_order=True)
        .agg(
            pl.col("arm").n_unique().alias("arms"),
            pl.len(),
            pl.col("arm").first(),
            pl.col("round_no").first(),
            pl.col("closing").all(),
        )
    )
    assert set(blocks["len"]) == {5}
    assert set(blocks["arms"]) == {1}
    rounds = blocks.drop_nulls("round_no").group_by("day_no", "round_no").agg(pl.col("arm").sort())
    assert all(row == sorted(arms) for row in rounds["arm"].to_list())
    last = blocks.group_by("day_no", maintain_order=True).last()
    assert set(last["arm"]) == {"normal"}
    assert last["closing"].all()
    assert design.n_days >= max(2, days)
    assert design.shots_per_arm >= shots
    counted = design.shots.filter(pl.col("counts") & pl.col("round_no").is_not_null()).group_by("arm").len()
    assert set(counted["len"]) == {design.shots_per_arm}


@given(arms=ARMS, seed=st.integers(0, 2**31))
@settings(max_examples=15, deadline=None)
def test_the_seed_gives_the_order_again_and_no_day_is_endless(arms, seed):
    design = trial_design(arms, "normal", 100, seed)
    assert design.shots.equals(trial_design(arms, "normal", 100, seed).shots)
    rounds_only = design.shots.filter(pl.col("round_no").is_not_null()).group_by("day_no").len()
    assert rounds_only["len"].max() <= 80 + 5 * len(arms)


def test_warm_up_does_not_count_and_has_no_arm():
    shots = trial_design(("normal", "wider"), "normal", 40, 1).shots
    warm_up = shots.filter(~pl.col("counts"))
    assert warm_up.height == 2 * WARM_UP_SHOTS
    assert warm_up["arm"].null_count() == warm_up.height
    assert shots.filter(pl.col("shot_no") <= WARM_UP_SHOTS)["counts"].sum() == 0


def test_both_orders_of_a_round_come_up():
    firsts = [trial_design(("normal", "wider"), "normal", 10, seed).shots.filter("counts")["arm"][0] for seed in range(200)]
    # binomial(200, 1/2): 60 to 140 holds with probability above .99999999
    assert 60 < firsts.count("normal") < 140


@pytest.mark.parametrize(
    ("arms", "normal", "shots", "days"),
    [
        (("normal",), "normal", 40, 2),
        (("a", "a"), "a", 40, 2),
        (("a", "b"), "normal", 40, 2),
        (("a", "b"), "a", 5, 2),
        (("a", "b"), "a", 40, 1),
    ],
)
def test_what_is_no_trial_is_refused(arms, normal, shots, days):
    with pytest.raises(ValueError, match=r"trial|normal|shots|day"):
        trial_design(arms, normal, shots, 1, days)
