"""Normal-inverse-Wishart update: formulas of Murphy (2007) and Gelman et al. (2013) from memory; vector derived."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import invwishart

from pipelines.measures.trial.pattern import PatternPosterior

SHOTS = np.array([[1.0, 2], [2, 1], [3, 5], [4, 4], [6, 7]])
PRIOR = PatternPosterior(np.zeros(2), 1.0, np.eye(2), 4.0)


def test_update():
    after = PRIOR.updated(SHOTS)
    assert after.centre == pytest.approx([2.666667, 3.166667], abs=5e-7)
    assert (after.n_centre, after.n_shape) == (6.0, 9.0)
    assert after.shape.ravel() == pytest.approx([24.333333, 26.333333, 26.333333, 35.833333], abs=5e-7)


def test_draws_have_the_mean_of_the_inverse_wishart():
    after = PRIOR.updated(SHOTS)
    _, factors = after.draws(40_000, np.random.default_rng(5))
    mean = np.einsum("nij,nkj->ik", factors, factors) / len(factors)
    # scipy's inverse Wishart as the reference; heavy tails, so 4 % of the largest element
    assert mean == pytest.approx(invwishart.mean(df=9, scale=after.shape), abs=0.25)
    assert after.covariance == pytest.approx(invwishart.mean(df=9, scale=after.shape), abs=1e-12)
