from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.scatter.wild import EARLIER, FEWEST_EARLIER, with_wild_shots
from pipelines.measures.summary import session_summary
from pipelines.measures.trend.observations import observations_of, usual_swings
from schemas.core.summaries import SCATTER_METRICS, SUMMARY_METRICS
from tests.broad import some_of

START = dt.date(2026, 1, 5)


def sessions(offline: np.ndarray) -> pl.DataFrame:
    """Summaries of drives, (players, sessions, shots) [m], a session a day."""
    player, session, shot = np.meshgrid(*(np.arange(size) for size in offline.shape), indexing="ij")
    frame = pl.DataFrame({"p": player.ravel(), "s": session.ravel(), "shot_no": shot.ravel(), "offline_m": offline.ravel()})
    named = frame.select(
        pl.format("p{}", pl.col("p").cast(pl.String).str.zfill(4)).alias("player_id"),
        pl.format("{}-{}", "p", pl.col("s").cast(pl.String).str.zfill(3)).alias("session_id"),
        (pl.lit(START) + pl.duration(days=pl.col("s"))).alias("on_date"),
        "offline_m",
        club_group=pl.lit("driver"), club=pl.lit("driver"), session_kind=pl.lit("range"), device_id=pl.lit("bay-1"),
        ball=pl.lit("premium"), indoors=pl.lit(value=True),
    )  # fmt: skip
    missing = [pl.lit(None, dtype=pl.Float64).alias(name) for name in SUMMARY_METRICS if name not in named.columns]
    return session_summary(named.with_columns(missing), tuple(SUMMARY_METRICS), SCATTER_METRICS)


def shares(offline: np.ndarray) -> np.ndarray:
    """Share of wild shots by session, over the players."""
    told = with_wild_shots(sessions(offline))
    return np.asarray(told["wild_n"].to_numpy().reshape(offline.shape[:2]).mean(axis=0) / offline.shape[2])


@pytest.mark.parametrize(
    ("n", "wobble"), some_of([(10, 0.12), (8, 0.0), (15, 0.0), (22, 0.0), (22, 0.12), (40, 0.12), (60, 0.0)])
)
def test_one_clean_shot_in_a_hundred_is_wild_however_long_the_sessions_are(n: int, wobble: float) -> None:
    """Own simulation; nothing else is known of this rule."""
    rng = np.random.default_rng(n)
    size = 300, 30, 1
    offline = 14.0 * np.exp(wobble * rng.standard_normal(size)) * rng.standard_normal((300, 30, n))
    assert shares(offline)[FEWEST_EARLIER:].mean() == pytest.approx(0.009, abs=0.002)


def with_wild(rng: np.random.Generator, players: int, since: int, share: float) -> np.ndarray:
    """Thirty sessions of 22 drives, of which from a session on a share end 25 to 60 m to a side."""
    offline = 12.0 * rng.standard_normal((players, 30, 22))
    wild = (rng.random(offline.shape) < share) & (np.arange(30) >= since)[:, None]
    return np.where(wild, offline + np.sign(rng.standard_normal(offline.shape)) * rng.uniform(25, 60, offline.shape), offline)


def test_wild_shots_do_not_hide_in_the_width_that_they_give_to_their_session() -> None:
    """Of one shot in six that ends 25 to 60 m out the session's own spread (12 m without them) tells too few."""
    rng = np.random.default_rng(1)
    offline = with_wild(rng, 150, 24, 0.16)
    seen = shares(offline)[24:].mean()
    by_itself = sessions(offline).filter(pl.col("on_date") >= START + dt.timedelta(days=24))["offline_m_wild_n"].mean() / 22  # type: ignore[operator]
    assert seen > 1.2 * by_itself


def test_the_share_that_is_followed_is_measured_by_the_sessions_before() -> None:
    rng = np.random.default_rng(5)
    rows = sessions(with_wild(rng, 20, 24, 0.16))
    followed = observations_of(usual_swings(rows), "wild_pct")
    told = with_wild_shots(rows).sort("player_id", "on_date")
    assert followed["x"].to_numpy() == pytest.approx(100.0 * told["wild_n"].to_numpy() / 22)
    assert followed["x"].mean() > 100.0 / 22 * rows["offline_m_wild_n"].mean()  # type: ignore[operator]


def test_a_pattern_twice_as_wide_has_no_more_wild_shots() -> None:
    rng = np.random.default_rng(2)
    offline = 12.0 * np.where(np.arange(30) >= 24, 2.0, 1.0)[:, None] * rng.standard_normal((300, 30, 22))
    assert shares(offline)[24:].mean() < 0.03


def test_first_sessions_are_judged_by_themselves_and_later_ones_by_those_before_alone() -> None:
    rng = np.random.default_rng(3)
    rows = sessions(with_wild(rng, 40, 10, 0.1))
    told = with_wild_shots(rows)
    early = told.filter(pl.col("on_date") < START + dt.timedelta(days=FEWEST_EARLIER))
    assert early["wild_n"].to_list() == early["offline_m_wild_n"].to_list()
    until = pl.col("on_date") < START + dt.timedelta(days=EARLIER)
    assert with_wild_shots(rows.filter(until))["wild_n"].to_list() == told.filter(until)["wild_n"].to_list()


def test_a_session_of_few_shots_has_no_share() -> None:
    rng = np.random.default_rng(4)
    told = with_wild_shots(sessions(rng.standard_normal((2, 8, 7))))
    assert told["wild_n"].null_count() == told.height
    assert told["offline_m_far"].null_count() == told.height
