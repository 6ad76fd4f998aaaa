"""Unit normal loss (table of Raiffa & Schlaifer, from memory, recomputed) and a worked example of the value of a sample."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.trial.value import perfect_information_value, sample_information_value, unit_normal_loss


@pytest.mark.parametrize(("u", "printed"), [(0.0, 0.3989), (0.5, 0.1978), (1.0, 0.08332), (2.0, 0.008491)])
def test_unit_normal_loss(u, printed):
    # digits of the standard table, from memory; exact formula phi(u) - u (1 - Phi(u))
    assert unit_normal_loss(u) == pytest.approx(printed, abs=0.5 * 10.0 ** -len(f"{printed}".split(".")[1]))


def test_value_of_ten_more_shots():
    # m .4, v .25, s^2 2.25, 10 more per arm: EVSI .012524, EVPI .060104 (derived, confirmed by simulation at .0130)
    assert sample_information_value(0.4, 0.5, 2.25, 10) == pytest.approx(0.012524, abs=5e-7)
    assert perfect_information_value(0.4, 0.5) == pytest.approx(0.060104, abs=5e-7)


def test_value_of_a_sample_by_simulation():
    rng = np.random.default_rng(11)
    truth = rng.normal(0.4, 0.5, 400_000)
    seen = rng.normal(truth, np.sqrt(2 * 2.25 / 10))
    after = (0.4 / 0.25 + seen * 10 / 4.5) / (1 / 0.25 + 10 / 4.5)
    gain = np.mean(np.maximum(after, 0)) - max(0.4, 0)
    # standard error of the simulation about .0006
    assert sample_information_value(0.4, 0.5, 2.25, 10) == pytest.approx(gain, abs=0.002)


def test_nothing_to_learn_is_worth_nothing():
    assert sample_information_value(0.4, 0.0, 1.0, 10) == 0.0
    assert sample_information_value(0.4, 0.5, 1.0, 0) == 0.0
    assert sample_information_value(0.4, 0.5, 1.0, 10**9) == pytest.approx(perfect_information_value(0.4, 0.5), rel=1e-6)
