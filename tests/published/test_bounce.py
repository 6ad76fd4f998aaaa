"""Run after landing: Penner 2002 and Biber and others 2023 (both second-hand)."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.bounce import ARTIFICIAL_TURF, NATURAL_TURF, PENNER_TURF, run_m

YD = 0.9144
ANGLES = np.array([25.0, 30.0, 35.0, 40.0, 45.0, 50.0])


def test_run_by_landing_angle_penner() -> None:
    # 28 m/s, 2000 rpm, whole yards (derived by an earlier program from the second-hand formulas)
    np.testing.assert_allclose(run_m(28.0, ANGLES, 2000.0, PENNER_TURF) / YD, [38, 35, 31, 27, 23, 19], atol=0.5)


def test_run_by_landing_angle_biber() -> None:
    np.testing.assert_allclose(run_m(28.0, ANGLES, 2000.0, NATURAL_TURF) / YD, [44, 36, 28, 21, 14, 9], atol=0.5)


@pytest.mark.parametrize(("turf", "yards"), [(NATURAL_TURF, 25.3), (ARTIFICIAL_TURF, 45.7)])
def test_two_turfs_at_one_landing(turf: object, yards: float) -> None:
    assert run_m(28.5, 37.3, 2094.0, turf)[0] / YD == pytest.approx(yards, abs=0.05)  # type: ignore[arg-type]


def test_the_two_models_agree_on_a_drive() -> None:
    # two independent models at a driver's landing; course rating assumes 20 yd of roll (second-hand)
    penner, biber = (float(run_m(28.5, 37.3, 2094.0, turf)[0]) / YD for turf in (PENNER_TURF, NATURAL_TURF))
    assert abs(penner - biber) < 4.0
    assert 15.0 < biber < 32.0


def test_outside_the_range_there_is_no_run() -> None:
    assert np.isnan(run_m([60.0, 28.0, 28.0], [40.0, 85.0, 40.0], [2000.0, 2000.0, np.nan])).all()


def test_steeper_and_more_spin_run_less() -> None:
    assert (np.diff(run_m(28.0, ANGLES, 2000.0)) < 0.0).all()
    assert (np.diff(run_m(28.0, 38.0, np.array([1500.0, 2500.0, 4000.0]))) < 0.0).all()
