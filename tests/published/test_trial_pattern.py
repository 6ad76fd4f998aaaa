"""Normal-inverse-Wishart update: formulas of Murphy (2007) and Gelman et al. (2013) from memory; vector derived."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import invwishart, multivariate_t

from pipelines.measures.trial.pattern import PatternPosterior

SHOTS = np.array([[1.0, 2], [2, 1], [3, 5], [4, 4], [6, 7]])
PRIOR = PatternPosterior(np.zeros(2), 1.0, np.eye(2), 4.0)


def test_update():
    after = PRIOR.updated(SHOTS)
    assert after.centre == pytest.approx([2.666667, 3.166667], abs=5e-7)
    assert (after.n_centre, after.n_shape) == (6.0, 9.0)
    assert after.shape.ravel() == pytest.approx([24.333333, 26.333333, 26.333333, 35.833333], abs=5e-7)


def test_predictive_density_two_ways():
    after, shot = PRIOR.updated(SHOTS), np.array([3.0, 4.0])
    assert after.log_predictive(shot) == pytest.approx(-2.652733, abs=5e-7)
    assert PRIOR.log_evidence(SHOTS) == pytest.approx(-26.479779, abs=5e-7)
    ratio = PRIOR.log_evidence(np.vstack([SHOTS, shot])) - PRIOR.log_evidence(SHOTS)
    assert ratio == pytest.approx(after.log_predictive(shot), abs=1e-9)


def test_predictive_density_against_scipy():
    after = PRIOR.updated(SHOTS)
    shape = [[3.548611, 3.840278], [3.840278, 5.225694]]
    assert after.log_predictive(np.array([3.0, 4.0])) == pytest.approx(
        multivariate_t.logpdf([3, 4], after.centre, shape, df=8), abs=1e-6
    )


def test_draws_have_the_mean_of_the_inverse_wishart():
    after = PRIOR.updated(SHOTS)
    _, factors = after.draws(40_000, np.random.default_rng(5))
    mean = np.einsum("nij,nkj->ik", factors, factors) / len(factors)
    # scipy's inverse Wishart as the reference; heavy tails, so 4 % of the largest element
    assert mean == pytest.approx(invwishart.mean(df=9, scale=after.shape), abs=0.25)
    assert after.covariance == pytest.approx(invwishart.mean(df=9, scale=after.shape), abs=1e-12)
