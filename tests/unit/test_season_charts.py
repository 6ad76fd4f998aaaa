"""A season that becomes known: charts and stalls see the past with it, and nothing looks ahead."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import polars as pl
import pytest

from pipelines.measures.shift.run import ChartRun, Shift, chart_run
from pipelines.measures.trend.season import YEAR_DAYS, of_season, seasons
from pipelines.measures.trend.season_charts import charted, season_blocks, stalls
from pipelines.measures.trend.series import SeriesBatch
from pipelines.measures.trend.stall import Stretch, stall_scores

DAYS = np.arange(0.0, 500.0, 4.0)
KNOWN_FROM = 340.0
SEASON = (0.3, -1.8)


def batch(values: np.ndarray, lengths: int | None = None) -> SeriesBatch:
    days = np.repeat(DAYS[:, None], values.shape[1], axis=1)
    nothing = np.zeros_like(days)
    return SeriesBatch(days, values, nothing, nothing, np.full(values.shape[1], lengths or DAYS.size))


def told(values: np.ndarray, lengths: int | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Sums up and down of players whose season becomes known."""
    known = np.repeat((DAYS >= KNOWN_FROM)[:, None], values.shape[1], axis=1)
    season = np.where(known, SEASON[0], 0.0), np.where(known, SEASON[1], 0.0)
    ones, block = np.ones_like(values), known.astype(np.int64)
    run = charted(batch(values, lengths), 0.5 * ones, (0.0 * ones, 0.0 * ones), season, block)
    return run.up, run.down


def in_season(seed: int, n: int = 30, fall: float = 0.0) -> np.ndarray:
    noise = 0.7 * np.random.default_rng(seed).standard_normal((DAYS.size, n))
    return noise + of_season(SEASON, DAYS)[:, None] + np.where(DAYS >= 400.0, fall, 0.0)[:, None]


def test_once_the_season_is_known_nobody_who_follows_it_is_off_the_own_normal() -> None:
    up, down = told(in_season(1))
    after = DAYS >= KNOWN_FROM
    assert np.maximum(up, down)[~after & (DAYS > 200)].max() == 12.0  # before that the season itself is told
    assert np.maximum(up, down)[after].max() < 12.0
    assert (np.maximum(up, down)[after] > 6.0).mean() < 0.02


def test_one_who_falls_beyond_the_season_is_told() -> None:
    _, down = told(in_season(2, fall=-2.0))
    assert (down[DAYS >= 450.0].max(axis=0) > 6.0).mean() >= 0.95


def test_charts_of_a_night_know_nothing_of_later_sessions() -> None:
    values, kept = in_season(3), int((DAYS < 420.0).sum())
    for whole, early in zip(told(values), told(values, kept), strict=True):
        np.testing.assert_array_equal(whole[:kept], early[:kept])


def test_what_was_taken_for_growth_before_counts_only_while_no_season_was_known() -> None:
    """A rise of 3 over the first year, which was that of the season, is expected of nobody once the season is known."""
    values = in_season(1)
    ones, known = np.ones_like(values), np.repeat((DAYS >= KNOWN_FROM)[:, None], 30, axis=1)
    mistaken = np.repeat(np.minimum(DAYS / KNOWN_FROM, 1.0)[:, None], 30, axis=1) * 3.0
    season = np.where(known, SEASON[0], 0.0), np.where(known, SEASON[1], 0.0)
    run = charted(batch(values), 0.5 * ones, (mistaken, 0.0 * ones), season, known.astype(np.int64))
    up, down = told(values)
    np.testing.assert_array_equal(run.down[known], down[known])
    np.testing.assert_array_equal(run.up[known], up[known])
    assert (run.down[~known] > down[~known]).any()


def test_without_a_season_there_is_one_run() -> None:
    values, ones = in_season(4), np.ones((DAYS.size, 30))
    run = charted(batch(values), 0.5 * ones, (ones, 0 * ones), (0 * ones, 0 * ones), np.zeros_like(values, dtype=np.int64))
    np.testing.assert_array_equal(run.up, chart_run(batch(values), 0.5 * ones, expected=ones).up)


def test_estimates_of_before_are_passed_over_where_what_they_found_is_known() -> None:
    values = in_season(9, 8) + np.where(DAYS < 150.0, 0.0, 3.0)[:, None] * (np.arange(8) % 2)
    block = np.repeat(np.searchsorted([200.0, 300.0, 400.0], DAYS, side="right")[:, None], 8, axis=1)
    season = tuple(np.where(block > 0, one * (1.0 + 0.1 * block), 0.0) for one in SEASON)
    ones = np.ones_like(values)

    def drawn(first: np.ndarray | None = None, found: Sequence[Shift] = ()) -> ChartRun:
        return charted(batch(values), 0.5 * ones, (0.0 * ones, 0.0 * ones), season, block, first, found)

    whole = drawn()
    begin = np.full(8, int((DAYS < 420.0).sum()))
    begin[2] = 0
    known = [shift for shift in whole.shifts if shift.signal_step < begin[shift.series]]
    assert len(known) >= 3
    late = drawn(begin, known)
    assert late.shifts == whole.shifts
    for name in ("up", "down", "scores", "normal", "normal_sd", "episode"):
        for series in range(8):
            told = (slice(begin[series], None), series)
            np.testing.assert_array_equal(getattr(late, name)[told], getattr(whole, name)[told])
    assert not late.normal_sd[:40, 0].any(), "nothing was drawn of what is not asked for"


def test_a_summer_that_ends_is_no_stall_once_the_season_is_known() -> None:
    growth, block = np.zeros_like(DAYS), (DAYS >= KNOWN_FROM).astype(np.int64)
    values, variances = in_season(5, 1)[:, 0], np.full(DAYS.size, 0.5)
    one, begin = np.zeros(DAYS.size, dtype=np.int64), np.zeros(1, dtype=np.int64)
    unknown = stalls(DAYS, values, variances, growth, (0 * DAYS, 0 * DAYS), 0 * block, one, begin)[0]
    known = stalls(DAYS, values, variances, growth, (SEASON[0] * block, SEASON[1] * block), block, one, begin)
    assert unknown[DAYS < KNOWN_FROM].max() > 5.0
    assert known[0, DAYS >= KNOWN_FROM].max() < 2.0
    for first in (40, 100):
        late = stalls(DAYS, values, variances, growth, (SEASON[0] * block, SEASON[1] * block), block, one, begin + first)
        np.testing.assert_array_equal(late[:, first:], known[:, first:])
        assert np.isneginf(late[0, :first]).all()


def test_quarters_in_which_nothing_is_known_share_a_number() -> None:
    starts = [dt.date(2025, month, 1) for month in (1, 4, 7, 10)]
    rows = pl.DataFrame(
        {
            "metric": "club_speed_mps",
            "from_on": starts,
            "season_sine": [0.0, 0.0, 0.2, 0.2],
            "season_cosine": [0.0, 0.0, 0.0, 0.1],
        }
    )
    assert season_blocks(rows).tolist() == [0, 0, 1, 2]


def made(amplitudes: np.ndarray, seed: int) -> pl.DataFrame:
    """Sessions of a year and a half; each player with an own half difference between summer and winter."""
    rng = np.random.default_rng(seed)
    day = np.arange(0.0, 540.0, 3.0)
    parts = [
        pl.DataFrame({"player_id": f"p{k:02d}", "club": "driver", "day": day, "x": x, "variance": 0.5})
        for k, x in enumerate(-a * np.cos(2 * np.pi * day / YEAR_DAYS) + 0.7 * rng.standard_normal(day.size) for a in amplitudes)
    ]
    return pl.concat(parts)


def test_the_squad_s_season_and_each_players_own_are_found() -> None:
    amplitudes = np.linspace(0.4, 2.0, 17)
    squad, own = seasons(made(amplitudes, 6))
    assert squad == pytest.approx((0.0, -1.2), abs=0.1)
    found = np.array([-own[f"p{k:02d}", "driver"][1] for k in range(17)])
    assert np.abs(found - amplitudes).max() < 0.35
    assert np.corrcoef(found, amplitudes)[0, 1] > 0.95


def test_own_seasons_are_the_squads_where_players_do_not_differ_and_one_who_fell_has_none_of_the_fall() -> None:
    rows = made(np.full(17, 1.2), 7)
    fell = (pl.col("player_id") == "p00") & (pl.col("day") >= 400)
    squad, own = seasons(rows.with_columns(pl.when(fell).then(pl.col("x") - 4.0).otherwise("x").alias("x")))
    away = np.array([np.hypot(sine - squad[0], cosine - squad[1]) for sine, cosine in own.values()])
    assert away.max() < 0.35


def test_asked_from_a_session_on_a_stall_is_what_it_is_when_asked_of_all() -> None:
    values, growth = 0.02 * np.minimum(DAYS, 300.0) + in_season(8, 1)[:, 0] / 3.0, np.zeros_like(DAYS)
    variances = np.full(DAYS.size, 0.06)
    whole, late = stall_scores([Stretch(DAYS, values, variances, growth), Stretch(DAYS, values, variances, growth, 90)])
    assert np.isfinite(whole).all(axis=0).any()
    np.testing.assert_array_equal(late, whole[:, 90:])
