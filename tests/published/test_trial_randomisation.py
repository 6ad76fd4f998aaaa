"""Onghena's ABAB example (1992). Second-hand: data and p = 4/165 as carried and tested by a published R package."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipelines.measures.trial.randomisation import phase_randomisation, phase_splits, round_randomisation

ABAB = pl.read_csv(Path(__file__).parents[1] / "data" / "sced_abab_onghena1992.csv", comment_prefix="#")
SCORES = ABAB["score"].to_numpy().astype(float)


def test_abab_has_165_possible_cuts():
    # 24 measurements, four phases of at least 4: C(11, 3) = 165
    assert len(phase_splits(24, 4, 4)) == 165


def test_abab_p_value_is_four_of_165():
    result = phase_randomisation(SCORES, (6, 6, 6, 6), 4)
    assert result.difference == pytest.approx(2.0, abs=1e-12)
    assert result.p_value == pytest.approx(4 / 165, abs=1e-12)


def test_abab_with_all_measurements_of_a_phase_pooled_gives_five_of_165():
    # computed for this project with the same data: pooled mean of A minus pooled mean of B
    def pooled(lengths):
        ends = np.cumsum((0, *lengths))
        phases = [SCORES[a:b] for a, b in pairwise(ends)]
        return np.concatenate(phases[::2]).mean() - np.concatenate(phases[1::2]).mean()

    observed = pooled((6, 6, 6, 6))
    as_large = sum(pooled(split) >= observed - 1e-12 for split in phase_splits(24, 4, 4))
    assert as_large == 5


@pytest.mark.parametrize(("n_rounds", "smallest"), [(4, 0.125), (6, 0.03125), (8, 0.0078125)])
def test_smallest_p_of_paired_blocks(n_rounds, smallest):
    # two-sided 2 / 2^pairs: four pairs can never reach .05 (derived)
    values = np.tile([0.0, 1.0], (n_rounds, 1))
    result = round_randomisation(values, np.tile([0, 1], (n_rounds, 1)), 1, np.random.default_rng(1))
    assert result is not None
    assert result.is_exact
    assert result.p_value == result.smallest_p == smallest


def test_a_round_that_misses_an_arm_is_refused():
    with pytest.raises(ValueError, match="each arm exactly once"):
        round_randomisation(np.zeros((2, 2)), np.zeros((2, 2), dtype=int), 1, np.random.default_rng(1))


def test_one_round_gives_no_test():
    assert round_randomisation(np.zeros((1, 2)), np.array([[0, 1]]), 1, np.random.default_rng(1)) is None
