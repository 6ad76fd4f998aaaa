from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from scipy.stats import chi2

from pipelines.measures.baseline.norms import norms_frame, quarter_starts, session_sd, squad_norms
from pipelines.measures.federation.norms import WorthwhilePrior
from tests.unit.trend_world import observations, summaries


def test_spread_between_sessions_is_found_in_spite_of_odd_ones() -> None:
    rng = np.random.default_rng(1)
    noise = rng.uniform(0.05, 0.4, 4000)
    differences = np.sqrt(2 * 0.7**2 + noise) * rng.standard_normal(4000)
    differences[:200] *= 6.0
    assert session_sd(differences, noise) == pytest.approx(0.7, rel=0.08)


@pytest.mark.parametrize("n", [101, 4000])
def test_half_of_the_scaled_squares_lie_below_the_median_of_chi_square(n: int) -> None:
    # Reference: scipy.stats.chi2 (computed here); as near as a share of n can come.
    rng = np.random.default_rng(3)
    noise = rng.uniform(0.05, 2.0, n)
    differences = np.sqrt(2 * 0.7**2 + noise) * rng.standard_normal(n)
    scaled = differences**2 / (2.0 * session_sd(differences, noise) ** 2 + noise)
    assert np.mean(scaled < chi2(1).median()) == pytest.approx(0.5, abs=0.6 / n)
    assert session_sd(2.0 * differences, 4.0 * noise) == pytest.approx(2.0 * session_sd(differences, noise))


def test_no_spread_beyond_shot_noise_is_zero() -> None:
    rng = np.random.default_rng(2)
    assert session_sd(0.3 * rng.standard_normal(500), np.ones(500)) == 0.0


def test_quarters() -> None:
    assert quarter_starts(dt.date(2025, 11, 30), dt.date(2026, 4, 1)) == [
        dt.date(2025, 10, 1),
        dt.date(2026, 1, 1),
        dt.date(2026, 4, 1),
    ]


def test_prior_values_until_there_are_enough_then_the_squads_own() -> None:
    norms = norms_frame(squad_norms(observations(summaries(3, 8, 60)))).filter(pl.col("metric") == "club_speed_mps")
    first, second = norms.rows(named=True)
    assert first["is_prior"]
    assert (first["session_sd"], first["n_pairs"]) == (0.7, 0)
    assert not second["is_prior"]
    assert second["session_sd"] == pytest.approx(0.6, abs=0.15)  # form .7 % less shot noise that the summaries do not have
    assert second["detectable"] == pytest.approx(2.772 * second["typical_error"], rel=1e-3)


def test_norms_of_a_quarter_rest_on_the_days_before_it() -> None:
    whole = observations(summaries(4, 8, 60))
    cut = whole.filter(pl.col("on_date") < dt.date(2026, 4, 20))
    later = {norm.from_on: norm for norm in squad_norms(whole) if norm.metric == "club_speed_mps"}
    sooner = {norm.from_on: norm for norm in squad_norms(cut) if norm.metric == "club_speed_mps"}
    assert sooner == later


def test_smallest_worthwhile_change_stays_near_its_prior() -> None:
    norms = norms_frame(squad_norms(observations(summaries(5, 8, 60))))
    of_speed = norms.filter(pl.col("metric") == "club_speed_mps", ~pl.col("is_prior"))["worthwhile"]
    assert of_speed.is_between(0.75, 1.5).all()


def test_a_squad_with_too_few_data_takes_the_worthwhile_change_of_the_federation_as_known_by_then() -> None:
    observed = observations(summaries(3, 8, 60))
    priors = [WorthwhilePrior(dt.date(2025, month, 1), value) for month, value in ((10, 1.3), (11, 1.2), (12, 1.1))]
    without, used = (norms_frame(squad_norms(observed, given)) for given in ((), priors))
    speed = pl.col("metric") == "club_speed_mps"
    start = without.filter(speed)["from_on"].to_list()
    assert start[0] == dt.date(2026, 1, 1)
    first, second = used.filter(speed).rows(named=True)
    assert (first["worthwhile"], first["prior_on"]) == (1.1, dt.date(2025, 12, 1))
    assert second["prior_on"] is None  # the squad's own by then
    assert used.filter(~speed).equals(without.filter(~speed))
    late = norms_frame(squad_norms(observed, [WorthwhilePrior(dt.date(2026, 1, 1), 1.3)]))
    assert late.equals(without)
    wide = norms_frame(squad_norms(observed, [WorthwhilePrior(dt.date(2025, 1, 1), 4.0)]))
    assert wide.filter(speed)["worthwhile"][0] == 1.5
