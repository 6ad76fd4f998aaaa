"""Two ways to the same belief, and mishits that are set aside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.trial.pattern import PatternPosterior, mishits

PRIOR = PatternPosterior(np.array([200.0, 0.0]), 1.0, 5 * np.diag([80.0, 150.0]), 8.0)


@given(seed=st.integers(0, 10_000), n=st.integers(1, 40), cut=st.integers(0, 40))
@settings(max_examples=50, deadline=None)
def test_shots_at_once_or_in_two_parts_give_the_same_belief(seed, n, cut):
    shots = np.random.default_rng(seed).normal([210, 3], [9, 13], (n, 2))
    at_once, in_parts = PRIOR.updated(shots), PRIOR.updated(shots[:cut]).updated(shots[cut:])
    assert in_parts.shape == pytest.approx(at_once.shape, rel=1e-9)
    assert in_parts.centre == pytest.approx(at_once.centre, rel=1e-9)
    assert (in_parts.n_centre, in_parts.n_shape) == (at_once.n_centre, at_once.n_shape)


def test_draws_of_the_centre_spread_as_the_covariance_over_the_shots():
    rng = np.random.default_rng(4)
    after = PRIOR.updated(rng.normal([210, 3], [9, 13], (60, 2)))
    centres, _ = after.draws(20_000, rng)
    assert centres.mean(axis=0) == pytest.approx(after.centre, abs=0.06)
    # Var(centre) = E[Sigma] / k (law of total variance); 4 standard errors of 20,000 draws
    assert np.cov(centres.T).ravel() == pytest.approx((after.covariance / after.n_centre).ravel(), abs=0.12)


def test_a_normal_pattern_has_few_mishits_and_true_ones_are_found():
    rng = np.random.default_rng(9)
    clean, found, bad = 0.0, 0, 0
    for _ in range(100):
        shots = rng.normal([210, 0], [9, 13], (40, 2))
        clean += mishits(shots).mean() / 100
        missed = rng.random(40) < 0.08
        shots[missed] = rng.normal([150, 0], [25, 30], (int(missed.sum()), 2))
        flags = mishits(shots)
        found, bad = found + int((flags & missed).sum()), bad + int(missed.sum())
    assert clean < 0.015
    assert found / bad > 0.8


def test_a_handful_of_shots_only_loses_what_falls_short():
    shots = np.array([[200.0, 0], [205, 60], [198, -3], [120, 5], [203, 2]])
    assert mishits(shots).tolist() == [False, False, False, True, False]
