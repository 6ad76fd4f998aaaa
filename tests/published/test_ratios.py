"""Acute and chronic load: own series whose values follow from the published formulas by plain arithmetic.

Formulas: Windt & Gabbett 2019 (coupled and uncoupled, opening read), Lolli et al. 2019 (spurious correlation, read).
"""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.load.change import coupled_from_uncoupled, coupled_ratio, uncoupled_ratio

STEP = np.array([100.0] * 21 + [150.0] * 7)


def test_coupled_ratio_of_a_step() -> None:
    assert coupled_ratio(STEP) == pytest.approx(1.3333, abs=5e-5)


def test_uncoupled_ratio_of_a_step() -> None:
    assert uncoupled_ratio(STEP) == pytest.approx(1.5000, abs=5e-5)


@pytest.mark.parametrize(
    ("uncoupled", "coupled"),
    [(0.5, 0.5714), (0.8, 0.8421), (1.0, 1.0), (1.3, 1.2093), (1.5, 1.3333), (2.0, 1.6), (3.0, 2.0)],
)
def test_identity_of_coupled_and_uncoupled(uncoupled: float, coupled: float) -> None:
    assert coupled_from_uncoupled(uncoupled) == pytest.approx(coupled, abs=5e-5)
    series = np.array([100.0] * 21 + [100.0 * uncoupled] * 7)
    assert coupled_ratio(series) == pytest.approx(coupled, abs=5e-5)


def test_a_coupled_ratio_cannot_pass_four() -> None:
    assert coupled_from_uncoupled(1e9) == pytest.approx(4.0, abs=1e-6)


def test_coupling_alone_correlates_one_half() -> None:
    # Published: r .52 in 1000 simulated athletes (read); exactly 1/2 for independent weeks by arithmetic.
    weeks = np.random.default_rng(20).normal(1000, 100, (200_000, 4))
    assert np.corrcoef(weeks[:, 0], weeks.mean(axis=1))[0, 1] == pytest.approx(0.50, abs=0.005)


def test_a_ratio_alarm_after_a_holiday_is_arithmetic() -> None:
    series = np.array([100.0] * 28 + [0.0] * 7 + [100.0] * 7)
    assert coupled_ratio(series) == pytest.approx(1.3333, abs=5e-5)
    assert uncoupled_ratio(series) == pytest.approx(1.5, abs=5e-5)
