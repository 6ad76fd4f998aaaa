"""Power tables: computed for this project by simulation (800 runs a cell, standard error up to .018), from another program.

The formulas behind the shot sheet must give them within their simulation error; a small simulation of our own analysis stands
beside them here, the full one in tests/benchmarks.
"""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.trial.power import shots_for_scatter
from pipelines.measures.trial.regression import EffectPrior, TrialLayout, arm_effects
from tests.reference.simulated_trials import autoregression


@pytest.mark.parametrize(("ratio", "clean", "with_mishits"), [(1.2, 272, 504), (1.5, 58, 105), (2.0, 22, 36)])
def test_shots_for_a_change_of_scatter(ratio, clean, with_mishits):
    # printed by simulation; a standard error of .02 in power is 5 % of n
    assert shots_for_scatter(ratio) == pytest.approx(clean, rel=0.05)
    # how far mishits lie is not printed: 3.5 times as wide fits the large samples; the small one within 3 shots
    assert shots_for_scatter(ratio, 0.08) == pytest.approx(with_mishits, rel=0.06, abs=3)


def test_our_own_analysis_has_the_printed_power():
    # CV 1.5 %, +1 %, 40 shots an arm: printed .78; 150 trials here, standard error .034; three of them, and the prior's shrinkage
    rng = np.random.default_rng(33)
    hits = 0
    for _ in range(150):
        arm = np.concatenate([np.repeat(rng.permutation(2), 5) for _ in range(8)])
        layout = TrialLayout(arm, np.zeros(80, dtype=np.int64), np.arange(80) // 5, np.linspace(-1, 1, 80), 2)
        y = 1.5 * autoregression(80, 0.1, rng) - 1.5 * np.linspace(0, 1, 80) + arm
        effect = arm_effects(y, layout, EffectPrior(3.0, 2.0))
        assert effect is not None
        hits += effect.arm(1).above(0.0) > 0.975
    assert hits / 150 == pytest.approx(0.78, abs=0.12)
