"""Coverage of the 90 % intervals of level and four-week change on simulated squads, white and autocorrelated."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.trend.grid import standard_grid
from pipelines.measures.trend.points import TrendPoints, interval_factor, interval_width, trend_history
from pipelines.measures.trend.priors import PRIORS
from pipelines.measures.trend.resemblance import resemblance
from pipelines.measures.trend.series import SeriesBatch, packed

FORM, SHOT = 0.7, 1.5
SHAPES = ("flat", "slow rise", "drift", "plateau", "wander", "step")


def _truth(shape: str, day: np.ndarray, onset: float, walk: np.ndarray) -> np.ndarray:
    if shape == "slow rise":
        return 0.3 * day / 28.0
    if shape == "drift":
        return -2.0 * np.clip((day - onset) / 42.0, 0.0, 1.0)
    if shape == "plateau":
        return 1.2 * np.minimum(day, onset) / 28.0
    if shape == "wander":
        return np.interp(day, 28.0 * np.arange(walk.size), walk)
    return -2.0 * (day >= onset) if shape == "step" else np.zeros_like(day)


USUAL, ONCE = (2, 5), (1, 2)
"""Sessions a week: drawn for each series from the first on, the last left out."""


def simulated(
    seed: int,
    n_series: int,
    correlation: float,
    per_week: tuple[int, int] = USUAL,
    ahead: float = 0.0,
    noise_of: tuple[float, float] = (FORM, SHOT),
) -> tuple[SeriesBatch, np.ndarray, np.ndarray]:
    """Sessions, the true level so many days after each, and its change in the four weeks before each."""
    rng, (of_form, of_shot) = np.random.default_rng(seed), noise_of
    rows: list[tuple[np.ndarray, ...]] = []
    for number in range(n_series):
        day = np.flatnonzero(rng.random(180) < rng.integers(*per_week) / 7.0).astype(float)
        onset, walk = rng.uniform(80.0, 140.0), np.cumsum(0.5 * rng.standard_normal(8))
        shape = SHAPES[number % len(SHAPES)]
        level, before, later = (_truth(shape, at, onset, walk) for at in (day, day - 28.0, day + ahead))
        form = rng.standard_normal(day.size)
        for session in range(1, day.size):
            form[session] = correlation * form[session - 1] + np.sqrt(1.0 - correlation**2) * form[session]
        odd = rng.random(day.size) < 0.04
        form[odd] += rng.choice([-1.0, 1.0], odd.sum()) * rng.uniform(3.0, 5.0, odd.sum())
        noise = of_shot**2 / np.exp(rng.uniform(np.log(10.0), np.log(80.0), day.size))
        value = level + of_form * form + np.sqrt(noise) * rng.standard_normal(day.size)
        rows.append((np.full(day.size, number), day, value, noise, later, level - before))
    series, day, value, noise, level, change = (np.concatenate(column) for column in zip(*rows, strict=True))
    return packed(series, n_series, day, value, noise, np.zeros_like(day)), level, change


def _resemblance(batch: SeriesBatch, points: TrendPoints, form: float = FORM) -> np.ndarray:
    """Of each player after each session, as the night has it."""
    at = points.steps, points.series
    rows = pl.DataFrame({"player_id": points.series, "day": batch.days[at].astype(int), "x": batch.values[at]}).with_columns(
        on_date=dt.date(2026, 1, 5) + pl.duration(days="day"),
        variance=pl.Series(form**2 + batch.noise_variance[at]),
        expected=pl.lit(0.0),
        metric=pl.lit("club_speed_mps"),
        club_group=pl.lit("driver"),
    )
    rows = rows.with_columns(from_on=pl.col("on_date").dt.truncate("1q"))
    return resemblance(rows, ("player_id",))[0]["correlation"].to_numpy()


GAINED = {
    "club_speed_mps": 0.6,
    "ball_speed_mps": 0.5,
    "speed_ratio": 0.5,
    "comparable_carry_m": 0.5,
    "scatter_side_m": 0.4,
    "wild_pct": 0.5,
}
"""What a level gains without sessions in four weeks, in smallest worthwhile changes, as ``mart_trend_past`` has it."""


def coverage_after_silence(
    seed: int, n_series: int, correlation: float, per_week: tuple[int, int], spans: int, metric: str = "club_speed_mps"
) -> tuple[float, float]:
    """How often the interval holds the level so many times four weeks later: widened as pages have it, and as it was."""
    usual, ahead = PRIORS[metric], 28.0 * spans
    noise_of = usual.session_sd / usual.worthwhile, usual.shot_sd / usual.worthwhile
    batch, level, _ = simulated(seed, n_series, correlation, per_week, ahead, noise_of)
    points = trend_history(batch, np.ones_like(batch.days), standard_grid())[0]
    day = batch.days[points.steps, points.series]
    known = day >= 60.0
    sd = interval_width(_resemblance(batch, points, noise_of[0])) * points.level_sd
    off = np.abs(points.level - level)
    wider = np.sqrt(sd**2 + spans * GAINED[metric] ** 2)
    return float((off <= interval_factor() * wider)[known].mean()), float((off <= interval_factor() * sd)[known].mean())


def coverage(
    seed: int, n_series: int, correlation: float, per_week: tuple[int, int] = USUAL, metric: str = "club_speed_mps"
) -> tuple[float, float]:
    usual = PRIORS[metric]
    noise_of = usual.session_sd / usual.worthwhile, usual.shot_sd / usual.worthwhile
    batch, level, change = simulated(seed, n_series, correlation, per_week, noise_of=noise_of)
    points = trend_history(batch, np.ones_like(batch.days), standard_grid())[0]
    width = interval_factor() * interval_width(_resemblance(batch, points, noise_of[0]))
    late = batch.days[points.steps, points.series] >= 60.0
    told = late & points.change_known
    of_level = np.abs(points.level - level) <= width * points.level_sd
    of_change = np.abs(points.change - change) <= width * points.change_sd
    return float(of_level[late].mean()), float(of_change[told].mean())


def test_small_squad() -> None:
    """Regression, seeded: 60 series."""
    level, change = coverage(3, 60, 0.0)
    assert 0.86 <= level <= 0.96
    assert 0.86 <= change <= 0.97


@pytest.mark.parametrize("per_week", [USUAL, ONCE])
def test_intervals_are_no_wider_than_they_say(per_week: tuple[int, int]) -> None:
    """Regression, seeded: 400 series without resemblance; of those once a week the change held .96."""
    told = np.mean([coverage(seed, 200, 0.0, per_week) for seed in (2120, 2121)], axis=0)
    assert told.min() >= 0.87
    assert told.max() <= 0.925


@pytest.mark.parametrize("metric", ["comparable_carry_m", "wild_pct", "scatter_side_m"])
def test_nor_are_they_where_the_noise_of_shots_is_most_of_a_session(metric: str) -> None:
    """Regression, seeded: 120 series each; scatter's held .97 and .98 while each session had a chance of a jump that widened."""
    told = np.array([coverage(3701, 120, correlation, per_week, metric) for _, correlation, per_week in MAKINGS])
    print(f"\n{metric}: {np.round(told, 3).tolist()}")  # noqa: T201 - a benchmark shows its figures
    assert told.min() >= 0.87
    assert told.max() <= 0.95


MAKINGS = ((0, 0.0, USUAL), (1, 0.4, USUAL), (2, 0.0, ONCE))


@pytest.mark.parametrize("spans", [1, 2, 3])
def test_the_interval_holds_without_sessions_too(spans: int) -> None:
    """Seeded; how much is gained was chosen on seeds 2131 and 2132, where the interval as it was held .85 to .65."""
    told = [coverage_after_silence(2133 + one, 120, correlation, per_week, spans) for one, correlation, per_week in MAKINGS]
    print(f"\n{spans} x 28 days: {np.round(told, 3).tolist()}")  # noqa: T201 - a benchmark shows its figures
    assert all(0.85 <= wider <= 0.95 for wider, _ in told)
    assert np.mean([as_it_was for _, as_it_was in told]) < 0.82, "as it was, it does not hold"


@pytest.mark.parametrize("spans", [1, 3])
@pytest.mark.parametrize("metric", [metric for metric in GAINED if metric != "club_speed_mps"])
def test_it_holds_of_what_the_ball_does_too(metric: str, spans: int) -> None:
    """Seeded, with the noise of each quantity; how much is gained was chosen on seeds 2141 to 2146."""
    told = [
        coverage_after_silence(3564 + one, 120, correlation, per_week, spans, metric) for one, correlation, per_week in MAKINGS
    ]
    print(f"\n{metric}, {spans} x 28 days: {np.round(told, 3).tolist()}")  # noqa: T201 - a benchmark shows its figures
    assert all(0.85 <= wider <= 0.95 for wider, _ in told)
    assert np.mean([wider - as_it_was for wider, as_it_was in told]) > 0.02


@pytest.mark.benchmark
@pytest.mark.parametrize(("correlation", "low", "high"), [(0.0, 0.87, 0.93), (0.4, 0.85, 0.95)])
def test_coverage(correlation: float, low: float, high: float) -> None:
    results = np.array([coverage(seed, 300, correlation) for seed in (11, 12, 13)])
    level, change = results.mean(axis=0)
    print(f"\nautocorrelation {correlation}: level {level:.3f}, 28-day change {change:.3f}")  # noqa: T201 - a benchmark shows its figures
    assert low <= level <= high
    assert low <= change <= high
