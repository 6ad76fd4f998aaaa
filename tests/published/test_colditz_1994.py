"""Random effects over the 13 trials of Colditz et al. (1994), against what others computed from them.

[Colditz1994]. Data: tests/data/bcg_colditz1994.csv, log relative risks. Sources of the printed values: the tests of the R package
metafor, file test_misc_confint.r (interval of the variance between trials and of I squared, DerSimonian-Laird estimates), read;
the estimate by restricted maximum likelihood with Knapp-Hartung interval, second-hand: sixteen digits of that package as another
project's tests hold them. statsmodels is an independent reference for the estimates that it has.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.optimize import minimize_scalar
from statsmodels.stats.meta_analysis import combine_effects

from pipelines.measures.federation.pooling import Floats, random_effects

DATA = Path(__file__).parents[1] / "data" / "bcg_colditz1994.csv"


def relative_risks() -> tuple[Floats, Floats]:
    rows = pl.read_csv(DATA, comment_prefix="#")
    treated, control = rows["tpos"] + rows["tneg"], rows["cpos"] + rows["cneg"]
    effects = ((rows["tpos"] / treated) / (rows["cpos"] / control)).log()
    variances = 1 / rows["tpos"] - 1 / treated + 1 / rows["cpos"] - 1 / control
    return effects.to_numpy(), variances.to_numpy()


def test_mean_and_its_interval_are_the_printed_ones() -> None:
    found = random_effects(*relative_risks(), level=0.95)
    assert found.n == 13
    assert found.mean == pytest.approx(-0.714532342158211, abs=1e-7)
    assert found.low == pytest.approx(-1.10844371368566, abs=1e-7)
    assert found.high == pytest.approx(-0.320620970630764, abs=1e-7)
    assert found.between_sd**2 == pytest.approx(0.313243258137274, abs=1e-7)


def test_heterogeneity_has_the_printed_interval() -> None:
    found = random_effects(*relative_risks(), level=0.95)
    assert (round(found.between_low**2, 4), round(found.between_high**2, 4)) == (0.1197, 1.1115)
    # That package ends its search for the variance at a tolerance of 1.2e-4, which is .015 of the percentage at its lower end.
    assert 100 * found.heterogeneity_low == pytest.approx(81.9177, abs=0.015)
    assert 100 * found.heterogeneity_high == pytest.approx(97.6781, abs=5e-5)
    typical = found.between_sd**2 * (1 / found.heterogeneity - 1)
    assert (
        round(100 * 0.308760 / (0.308760 + typical), 3) == 92.117
    )  # I squared of the DerSimonian-Laird variance, printed 92.1173


def _against(effects: Floats, variances: Floats) -> None:
    """Knapp and Hartung's error of another library, at the variance between that was found here."""
    found = random_effects(effects, variances, level=0.95)
    with np.errstate(invalid="ignore"):  # its own random effects, which are not asked for
        other = combine_effects(effects, found.between_sd**2 + variances, method_re="chi2", use_t=True)
    assert found.mean == pytest.approx(float(other.mean_effect_fe), abs=1e-9)
    own = float(other.sd_eff_w_fe_hksj)
    floor = float(np.sqrt(1 / (1 / (found.between_sd**2 + variances)).sum()))
    assert found.error == pytest.approx(max(own, floor), rel=1e-9)


def test_error_is_that_of_another_library() -> None:
    _against(*relative_risks())
    rng = np.random.default_rng(4)
    for k in (2, 3, 8, 40):
        variances = rng.uniform(0.1, 0.6, k)
        _against(1.5 + rng.normal(0.0, 0.5, k) + rng.normal(0.0, 1.0, k) * np.sqrt(variances), variances)


def test_variance_between_maximises_the_restricted_likelihood() -> None:
    effects, variances = relative_risks()

    def loss(tau2: float) -> float:
        weight = 1 / (tau2 + variances)
        mean = weight @ effects / weight.sum()
        return float(-np.log(weight).sum() + np.log(weight.sum()) + weight @ (effects - mean) ** 2)

    best = minimize_scalar(loss, bounds=(0, 5), method="bounded", options={"xatol": 1e-10})
    assert random_effects(effects, variances).between_sd ** 2 == pytest.approx(best.x, abs=1e-6)


def test_academies_that_agree_give_no_narrower_interval_than_their_own_errors() -> None:
    found = random_effects(np.array([1.0, 1.01, 0.99]), np.full(3, 0.25))
    assert (found.between_sd, found.between_low, found.heterogeneity) == (0.0, 0.0, 0.0)
    assert found.error == pytest.approx(np.sqrt(0.25 / 3))
    assert found.next_high == pytest.approx(1.0 + 6.313752 * found.error, abs=1e-6)  # t(1), .95


def test_two_estimates_foretell_no_third_and_one_is_refused() -> None:
    assert random_effects(np.array([1.0, 2.0]), np.full(2, 0.25)).next_low is None
    for wrong in (np.array([1.0]), np.array([1.0, 2.0, 3.0])):
        with pytest.raises(ValueError, match="two estimates"):
            random_effects(wrong, np.full(2, 0.25)[: wrong.size])
    with pytest.raises(ValueError, match="positive variance"):
        random_effects(np.array([1.0, 2.0]), np.array([0.25, 0.0]))


def test_intervals_hold_in_nine_of_ten_worlds() -> None:
    """600 federations of six academies, seed 7: the mean lies within the 90 % interval, a further academy less often."""
    rng = np.random.default_rng(7)
    held, ahead = 0, 0
    for _ in range(600):
        variances = rng.uniform(0.1, 0.6, 6)
        true = 1.5 + rng.normal(0.0, 0.5, 7)
        found = random_effects(true[:6] + rng.normal(0.0, 1.0, 6) * np.sqrt(variances), variances)
        held += found.low <= 1.5 <= found.high
        ahead += (found.next_low or 0.0) <= true[6] <= (found.next_high or 0.0)
    assert 0.89 <= held / 600 <= 0.96
    assert 0.82 <= ahead / 600 <= 0.96  # the variance between academies is taken as found, and six seldom show it whole
