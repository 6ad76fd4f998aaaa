"""The regression behind the effects, against statsmodels (generalised least squares with the same covariance)."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.linalg import block_diag, toeplitz

from pipelines.measures.trial import regression
from pipelines.measures.trial.regression import EffectPrior, TrialLayout, arm_effects, whitened


def layout_of(rng: np.random.Generator, rounds: int = 4, sessions: int = 2) -> TrialLayout:
    arms = np.concatenate([np.repeat(rng.permutation(2), 5) for _ in range(rounds * sessions)])
    n = len(arms)
    return TrialLayout(
        arm=arms,
        session=np.repeat(np.arange(sessions), n // sessions),
        block=np.arange(n) // 5,
        position=np.tile(np.linspace(-1, 1, n // sessions), sessions),
        n_arms=2,
    )


@pytest.mark.parametrize(("correlation", "share"), [(0.0, 0.0), (0.3, 0.0), (0.2, 0.1), (0.45, 0.3)])
def test_effect_and_error_equal_generalised_least_squares(monkeypatch, correlation, share):
    rng = np.random.default_rng(21)
    layout = layout_of(rng)
    y = rng.normal(45, 0.7, len(layout.arm)) + 0.5 * layout.arm
    monkeypatch.setattr(regression, "CORRELATIONS", (correlation,))
    monkeypatch.setattr(regression, "BLOCK_SHARES", (share,))
    monkeypatch.setattr(regression, "BLOCK_SHARE_PRIOR", (1.0,))
    monkeypatch.setattr(regression, "NOISE_DF", 1e-9)
    found = arm_effects(y, layout, EffectPrior(effect_sd=1e6, drift_sd=1e6))
    assert found is not None
    effect = found.arm(1)

    each = len(y) // 2
    autoregression = toeplitz(correlation ** np.arange(each)) / (1 - correlation**2)
    blocks = np.equal.outer(layout.block, layout.block)
    design = np.column_stack([layout.session == 0, layout.session == 1, layout.position, layout.position**2, layout.arm]).astype(
        float
    )
    fitted = sm.GLS(y, design, sigma=block_diag(autoregression, autoregression) + share * blocks).fit()
    assert effect.mean == pytest.approx(fitted.params[4], abs=1e-5)
    # our degrees of freedom do not spend the drift and arm columns, which have a proper prior: the same sum of squares
    factor = np.sqrt(fitted.df_resid / effect.df)
    assert effect.scales[0] == pytest.approx(fitted.bse[4] * factor, rel=1e-4)


def test_whitening_equals_the_inverse_root_of_the_covariance():
    # Prais-Winsten: whitened' whitened = x' inv(R) x with R the covariance of the autoregression
    x = np.random.default_rng(2).normal(size=(12, 3))
    white = whitened(x, np.zeros(12, dtype=int), 0.4)
    covariance = toeplitz(0.4 ** np.arange(12)) / (1 - 0.4**2)
    assert white.T @ white == pytest.approx(x.T @ np.linalg.inv(covariance) @ x, abs=1e-10)


def test_mixture_picks_the_correlation_that_was_used():
    rng = np.random.default_rng(8)
    layout = layout_of(rng, rounds=20)
    noise = rng.normal(size=len(layout.arm))
    for i in range(1, len(noise)):
        noise[i] += 0.6 * noise[i - 1] if layout.session[i] == layout.session[i - 1] else 0.0
    found = arm_effects(noise, layout, EffectPrior(3.0, 2.0))
    flat = arm_effects(rng.normal(size=len(noise)), layout, EffectPrior(3.0, 2.0))
    assert found is not None
    assert flat is not None
    assert found.arm(1).sd > 1.3 * flat.arm(1).sd


def test_too_few_shots_give_none_and_a_gap_is_refused():
    layout = layout_of(np.random.default_rng(1), rounds=1, sessions=1)
    few = layout.kept(np.arange(10) % 3 == 0)
    assert arm_effects(np.zeros(4), few.kept(np.ones(4, dtype=bool)), EffectPrior(3, 2)) is None
    with pytest.raises(ValueError, match="finite"):
        arm_effects(np.full(10, np.nan), layout, EffectPrior(3, 2))


def test_days_that_disagree_give_a_wider_interval_than_days_that_agree():
    rng = np.random.default_rng(4)
    layout = layout_of(rng)
    prior = EffectPrior(3.0, 2.0, day_sd=1.0)
    noise = rng.normal(0, 1.0, len(layout.arm))
    widths = []
    for apart in (0.0, 2.5):
        day = np.where(layout.session == 0, 1.0 + apart / 2, 1.0 - apart / 2)
        found = arm_effects(noise + day * layout.arm, layout, prior)
        assert found is not None
        low, high = found.arm(1).interval()
        widths.append(high - low)
    alike = arm_effects(noise + layout.arm, layout, EffectPrior(3.0, 2.0))
    assert alike is not None
    low, high = alike.arm(1).interval()
    assert high - low < widths[0] < 0.8 * widths[1]


def test_a_measurement_that_never_varies_is_no_fault():
    layout = layout_of(np.random.default_rng(4))
    found = arm_effects(np.full(len(layout.arm), 1.45), layout, EffectPrior(0.03, 0.02, day_sd=0.01))
    assert found is not None
    assert found.arm(1).mean == pytest.approx(0.0, abs=1e-4)
