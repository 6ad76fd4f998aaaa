"""What a flag states of a change: a posterior mean that picking does not bias, and sessions that settle it."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from pipelines.measures.flags.stated import (
    SCATTER_SPREAD,
    SHARE_REAL,
    TRUE_SPREAD,
    likely_change,
    sessions_to_settle,
    share_still_likely,
    true_spread,
)


def likely(change: np.ndarray, error: np.ndarray) -> np.ndarray:
    frame = pl.DataFrame({"d": change, "s": error})
    return frame.select(likely_change(pl.col("d"), pl.col("s"), pl.lit(TRUE_SPREAD))).to_series().to_numpy()


def needed(change: float, sd: float, n: int) -> int | None:
    frame = pl.DataFrame({"d": [change], "sd": [sd], "n": [n]})
    return frame.select(sessions_to_settle(pl.col("d"), pl.col("sd"), pl.col("n"))).to_series()[0]


@pytest.mark.parametrize(("d", "s"), [(-2.0, 0.4), (0.9, 0.4), (0.3, 0.5), (4.0, 1.0)])
def test_it_is_the_posterior_mean_by_integration(d: float, s: float) -> None:
    def density(delta: float) -> float:
        return SHARE_REAL * norm.pdf(delta, 0, TRUE_SPREAD) * norm.pdf(d, delta, s)

    top = quad(lambda delta: delta * density(delta), -20, 20, points=[d])[0]
    bottom = quad(density, -20, 20, points=[d])[0] + (1 - SHARE_REAL) * norm.pdf(d, 0, s)
    assert likely(np.array([d]), np.array([s]))[0] == pytest.approx(top / bottom, rel=1e-6)


def test_of_the_largest_it_is_right_on_average_where_what_was_seen_is_too_large() -> None:
    rng = np.random.default_rng(1)
    n = 200_000
    true = np.where(rng.random(n) < SHARE_REAL, rng.normal(0, TRUE_SPREAD, n), 0.0)
    error = rng.uniform(0.3, 0.6, n)
    seen = true + error * rng.standard_normal(n)
    picked = seen < -2.5 * error
    told = likely(seen, error)
    assert (seen - true)[picked].mean() < -0.15
    assert abs((told - true)[picked].mean()) < 0.03
    assert (np.abs(told) <= np.abs(seen)).all()
    assert np.array_equal(np.sign(told), np.sign(seen))


def test_a_pattern_may_change_farther_than_a_speed() -> None:
    metrics = pl.DataFrame({"metric": ["club_speed_mps", "scatter_side_m", "scatter_long_m", "aim_deg"]})
    spreads = metrics.select(true_spread(pl.col("metric"))).to_series().to_list()
    assert spreads == [TRUE_SPREAD, SCATTER_SPREAD, SCATTER_SPREAD, TRUE_SPREAD]
    doubled = pl.DataFrame({"d": [69.0], "s": [10.0], "spread": [SCATTER_SPREAD * 16.0]})
    told = doubled.select(likely_change(pl.col("d"), pl.col("s"), pl.col("spread"))).item()
    assert told == pytest.approx(69.0 * 80.0**2 / (80.0**2 + 10.0**2), rel=1e-6), "what is left is surely real"


@pytest.mark.parametrize("change", [1.0, -2.0])
def test_after_so_many_sessions_the_interval_leaves_out_none_or_the_change(change: float) -> None:
    sd, n = 0.8, 60
    k = needed(change, sd, n)
    assert k is not None
    width = 2 * 1.6449 * np.sqrt(sd**2 / k + sd**2 / n)
    wider = 2 * 1.6449 * np.sqrt(sd**2 / max(k - 1, 1e-9) + sd**2 / n)
    assert width <= abs(change) < wider


def test_of_a_notice_less_is_likely_after_every_session() -> None:
    waited = pl.DataFrame({"kind": ["speed_fall"] * 3 + ["scatter_rise", "speed_rise"], "n": [0, 3, 9, 3, 3]})
    told = waited.select(share_still_likely(pl.col("kind"), pl.col("n"))).to_series().to_list()
    assert told == [1.0, 0.5, 0.125, 0.25, None]


def test_what_no_dozen_of_sessions_settles_is_not_promised() -> None:
    assert needed(0.4, 1.5, 60) is None
    assert needed(0.2, 0.8, 8) is None


def test_one_session_settles_a_change_that_is_large_beside_a_session() -> None:
    """2 z sd sqrt(1 + 1/60) of 90 % is 2.65 where a session's is 0.8: smaller than 5."""
    assert needed(5.0, 0.8, 60) == 1
    assert needed(2.66, 0.8, 60) == 1
    assert needed(2.65, 0.8, 60) == 2
