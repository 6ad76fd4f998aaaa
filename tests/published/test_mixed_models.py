"""Crossed, nested and correlated random effects against printed fits.

Penicillin [DaviesGoldsmith1972]: read in a public comparison of mixed-model fits. Sleep study [Belenky2003]: read as output of a
mixed-model package. Machines: from memory (Pinheiro & Bates), and computed by [Statsmodels].
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipelines.measures.device.mixed_model import RandomTerm, mixed_model

DATA = Path(__file__).parent.parent / "data"


def codes(column: pl.Series) -> np.ndarray:
    return np.unique(column.to_numpy(), return_inverse=True)[1].astype(np.int64)


def intercepts(groups: np.ndarray) -> RandomTerm:
    return RandomTerm(groups, np.ones((groups.size, 1)))


def test_penicillin_crossed() -> None:
    frame = pl.read_csv(DATA / "penicillin.csv", comment_prefix="#")
    values = frame["diameter"].to_numpy().astype(float)
    terms = (intercepts(codes(frame["plate"])), intercepts(codes(frame["sample"])))
    fit = mixed_model(values, np.ones((values.size, 1)), terms)
    sds = [float(np.sqrt(covariance[0, 0])) for covariance in fit.covariances]
    assert (*sds, fit.residual_sd) == pytest.approx((0.8467, 1.9316, 0.5499), abs=2e-4)
    assert fit.criterion == pytest.approx(330.8606, abs=5e-4)
    assert fit.fixed[0] == pytest.approx(22.97, abs=0.005)


def test_sleep_study_correlated_slopes() -> None:
    frame = pl.read_csv(DATA / "sleepstudy.csv", comment_prefix="#")
    values, days = frame["Reaction"].to_numpy(), frame["Days"].to_numpy().astype(float)
    design = np.stack([np.ones(days.size), days], axis=1)
    fit = mixed_model(values, design, (RandomTerm(codes(frame["Subject"]), design),))
    covariance = fit.covariances[0]
    sds = np.sqrt(np.diag(covariance))
    # The criterion is flat about its lowest point: another optimiser agrees to 2 units of the last printed digit.
    assert sds == pytest.approx((24.741, 5.922), abs=2e-3)
    assert covariance[0, 1] / sds.prod() == pytest.approx(0.07, abs=0.005)
    assert fit.residual_sd == pytest.approx(25.592, abs=1e-3)
    assert fit.criterion == pytest.approx(1743.628, abs=5e-4)
    assert fit.fixed == pytest.approx((251.405, 10.467), abs=5e-4)
    assert fit.fixed_se == pytest.approx((6.825, 1.546), abs=1e-3)


def test_machines_nested() -> None:
    frame = pl.read_csv(DATA / "machines.csv", comment_prefix="#")
    values = frame["score"].to_numpy()
    machine, worker = codes(frame["Machine"]), codes(frame["Worker"])
    fixed = np.stack([np.ones(values.size), machine == 1, machine == 2], axis=1).astype(float)
    fit = mixed_model(values, fixed, (intercepts(worker), intercepts(worker * 3 + machine)))
    sds = [float(np.sqrt(covariance[0, 0])) for covariance in fit.covariances]
    assert (*sds, fit.residual_sd) == pytest.approx((4.7813, 3.7293, 0.9616), abs=3e-4)
    assert fit.fixed == pytest.approx((52.35556, 7.96667, 13.91667), abs=5e-5)
    assert fit.criterion == pytest.approx(215.6876, abs=5e-4)
