"""The likelihood ratio of a share that rose: against another library, at counts made by hand, and among quiet players."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipelines.measures.flags.chart_rules import STREAM, chart_candidates, players_judged
from pipelines.measures.flags.counted import with_counted_chances
from pipelines.measures.scatter.share_rise import QUIET, RARER, RISEN, chance_of_ratio, log_ratio_of_rise

START = dt.date(2026, 1, 5)


def log_chance(hits: np.ndarray, shots: np.ndarray, prior: tuple[float, float]) -> float:
    """Session after session, each with what those before it told: the same by another way."""
    a, b = prior
    total = 0.0
    for k, n in zip(hits, shots, strict=True):
        total += stats.betabinom.logpmf(int(k), int(n), a, b) - stats.binom(int(n), 0.5).logpmf(int(k)) - n * np.log(2.0)
        a, b = a + k, b + n - k
    return total


def test_it_is_the_ratio_of_two_chains_of_beta_binomial_chances() -> None:
    """Independent: scipy's beta-binomial distribution, its binomial factor taken out, multiplied up session by session."""
    rng = np.random.default_rng(4)
    shots = rng.integers(8, 40, 14)
    hits = rng.binomial(shots, np.where(np.arange(14) < 9, 0.03, 0.15))
    day = (7.0 * np.arange(14)).astype(np.float64)
    found = log_ratio_of_rise(day, hits.astype(float), shots.astype(float), np.arange(14))
    for at in (5, 9, 13):
        parts = []
        for onset in range(4, at + 1):
            k0, n0, k1, n1 = hits[:onset], shots[:onset], hits[onset : at + 1], shots[onset : at + 1]
            higher = (k1.sum() + RISEN[0]) / (n1.sum() + sum(RISEN)) > (k0.sum() + QUIET[0]) / (n0.sum() + sum(QUIET))
            ratio = log_chance(k0, n0, QUIET) + log_chance(k1, n1, RISEN) - log_chance(hits[: at + 1], shots[: at + 1], QUIET)
            parts.append(np.exp(ratio) if higher else 0.0)
        assert found[at] == pytest.approx(np.log(np.mean(parts)), rel=1e-9)
    assert np.all(np.isneginf(found[:4]))


def test_a_rise_is_looked_for_within_half_a_year() -> None:
    day = np.array([0.0, 7.0, 14.0, 21.0, 28.0, 400.0, 407.0])
    hits, shots = np.array([0.0, 1.0, 0.0, 1.0, 6.0, 0.0, 0.0]), np.full(7, 20.0)
    found = log_ratio_of_rise(day, hits, shots, np.arange(7))
    assert found[4] > 0.0  # six of twenty
    assert found[6] < 0.0  # that was a year ago, and none since


def test_the_chance_is_no_smaller_than_how_often_quiet_players_reach_it() -> None:
    """300 players of one session a week for a year, 22 shots each, of whom 1 to 5 % are wild: own simulation, seeded."""
    rng = np.random.default_rng(12)
    day, ratios = (7.0 * np.arange(52)).astype(np.float64), []
    for _ in range(300):
        shots = np.clip(rng.lognormal(np.log(22), 0.5, 52), 8, 60).round().astype(np.int64)
        hits = rng.binomial(shots, rng.uniform(0.01, 0.05))
        ratios.append(log_ratio_of_rise(day, hits.astype(np.float64), shots.astype(np.float64), np.arange(52)))
    found = np.concatenate(ratios)
    for log_ratio in (1.0, 2.0, 3.0):
        assert np.mean(found >= log_ratio) <= 1.3 * chance_of_ratio(np.array(log_ratio))
    assert chance_of_ratio(np.array([-np.inf, -RARER, 0.0])).tolist() == pytest.approx([1.0, 1.0, np.exp(-2.0)])


def weekly(episode: int, **columns: object) -> pl.DataFrame:
    """A session a week: 1 wild shot of 40 in half a year, then 6 of 40; the chart says .003 at most."""
    day = np.arange(36)
    frame = pl.DataFrame(
        {"on_date": [START + dt.timedelta(days=7 * int(one)) for one in day], "x": np.where(day < 26, 2.5, 15.0)}
    )
    given = {
        "metric": "wild_pct", "player_id": "p1", "club_group": "driver", "club": "driver", "series": "", "session_id": "s",
        "device_id": "", "n": 40, "noise": 7.2, "variance": 7.2, "level": 13.0, "level_half": 3.0, "level_error": 1.8,
        "usual": 2.5, "usual_sd": 3.0,
        "usual_n": 26, "worthwhile": 4.0, "growth": 0.0, "chart_up": 6.0, "chart_down": 0.0, "p_chart_up": 0.003,
        "p_chart_down": 1.0, "ended": "", "season_sine": 0.0, "season_cosine": 0.0, "episode": episode, **columns,
    }  # fmt: skip
    return frame.with_columns(pl.lit(value).alias(name) for name, value in given.items())


def test_counts_speak_where_a_chart_that_is_open_can_say_no_more() -> None:
    rows = weekly(1)
    said = chart_candidates(rows, players_judged(rows)).filter(kind="wild_rise").sort("on_date")
    assert said["p_value"][-1] < 1e-6
    assert said.filter(pl.col("on_date") < START + dt.timedelta(days=7 * 26))["p_value"].min() == pytest.approx(0.003)
    assert f"chance={round(said['p_value'][-1], 5)}" in said["reasons"][-1]


def test_without_an_open_rise_the_chart_alone_speaks_and_sessions_that_differ_more_count_less() -> None:
    closed = with_counted_chances(weekly(0), STREAM)
    assert closed["p_chart_up"].to_list() == [0.003] * 36
    alike, apart = (with_counted_chances(weekly(1, variance=wide), STREAM)["p_chart_up"][-1] for wide in (7.2, 28.8))
    assert alike < 1e-6 < apart <= 0.003


def test_what_is_said_does_not_hang_on_which_points_are_asked_for() -> None:
    rows = weekly(1)
    last = rows.with_columns(pl.when(pl.int_range(pl.len()) < 30).then(None).otherwise(pl.col("level")).alias("level"))
    assert with_counted_chances(last, STREAM)["p_chart_up"][-1] == with_counted_chances(rows, STREAM)["p_chart_up"][-1]
    assert with_counted_chances(last, STREAM)["p_chart_up"][:30].to_list() == [0.003] * 30
    assert with_counted_chances(rows.clear(), STREAM).is_empty()


def test_each_player_is_told_by_the_own_sessions() -> None:
    one, other = weekly(1), weekly(1, player_id="p2", n=20)
    together = with_counted_chances(pl.concat([one, other]), STREAM)
    alone = pl.concat([with_counted_chances(one, STREAM), with_counted_chances(other, STREAM)])
    assert together["p_chart_up"].to_list() == alone["p_chart_up"].to_list()
    assert alone.filter(player_id="p1")["p_chart_up"][-1] < alone.filter(player_id="p2")["p_chart_up"][-1]
