"""What is usual in a squad of the shares of wild shots, and that a rise is told beside it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.estimates import Estimates
from pipelines.measures.scatter.rings import FAR_AT, MAD_TO_SD, SHARES
from pipelines.measures.scatter.share_rise import QUIET, chance_of_ratio, log_likelihood_of_shares, log_ratios_of_rise
from pipelines.measures.scatter.usual_shares import quiet_shares, told_by_shots, usual_weights, with_usual_shares

START = dt.date(2026, 1, 5)
SHARE, WIDE, LOSE_AT = 0.05, 3.0, 0.05
"""One shot in twenty ends three times as far out and loses 5 % of its ball speed, as in the squads of the real night."""


def player(rng: np.random.Generator, name: str, n: int = 45, share: float = SHARE) -> pl.DataFrame:
    """Sessions of 28 shots every 2.5 days."""
    wild = rng.random((n, 28)) < share
    off = 14.0 * np.where(wild, WIDE, 1.0) * rng.standard_normal((n, 28))
    loss = 0.012 * rng.standard_normal((n, 28)) + np.where(wild, LOSE_AT, 0.0)
    away = np.abs(off - np.median(off, axis=1, keepdims=True))
    mad = np.median(away, axis=1)
    rows = zip(away, loss, mad, strict=True)
    far = [one[one > FAR_AT * MAD_TO_SD * middle].tolist() for one, _, middle in rows]
    side = [(one[lost > 2.5 * 0.0135] / (MAD_TO_SD * middle)).tolist() for one, lost, middle in zip(away, loss, mad, strict=True)]
    return pl.DataFrame(
        {
            "player_id": name,
            "club_group": "driver",
            "club": "driver",
            "on_date": [START + dt.timedelta(days=int(2.5 * one)) for one in range(n)],
            "session_id": [f"{name}-{one:03d}" for one in range(n)],
            "n": 28,
            "median_off_m": mad,
            "far_off_m": far,
            "ratio_n": 28,
            "lost_side": side,
        }
    )


def squad(seed: int, n_players: int) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    return pl.concat([player(rng, f"p{one:02d}") for one in range(n_players)])


def test_a_squad_tells_which_shares_are_usual_and_a_new_one_takes_those_of_anywhere() -> None:
    told = with_usual_shares(squad(3, 60), Estimates())
    months = {
        (day.year, day.month): quiet_shares(pl.Series([text])) for day, text in told.select("on_date", "usual_shares").rows()
    }
    np.testing.assert_allclose(months[(2026, 1)][0], QUIET)
    assert months[(2026, 4)][0][2:5].sum() > 0.8  # .03 to .065
    assert months[(2026, 4)][0].sum() == pytest.approx(1.0, abs=0.001)
    assert quiet_shares(pl.Series([None], dtype=pl.String)).tolist() == [QUIET.tolist()]


def test_what_was_estimated_hangs_on_no_later_session() -> None:
    whole = squad(4, 12)
    known = with_usual_shares(whole, Estimates()).filter(pl.col("on_date") < dt.date(2026, 3, 20))
    early = with_usual_shares(whole.filter(pl.col("on_date") < dt.date(2026, 3, 20)), Estimates())
    assert early.equals(known)
    assert (
        with_usual_shares(whole.reverse(), Estimates())["usual_shares"]
        .reverse()
        .equals(with_usual_shares(whole, Estimates())["usual_shares"])
    )


def test_sessions_without_a_width_tell_nothing_of_what_is_usual() -> None:
    whole = squad(4, 12)
    without = whole.with_columns(pl.when(pl.col("player_id") < "p06").then(None).otherwise("median_off_m").alias("median_off_m"))
    few = with_usual_shares(without, Estimates()).filter(pl.col("player_id") >= "p06")
    assert few["usual_shares"].to_list() == with_usual_shares(few.drop("usual_shares"), Estimates())["usual_shares"].to_list()
    none = with_usual_shares(whole.with_columns(pl.lit(None, dtype=pl.Float64).alias("median_off_m")), Estimates())
    assert none["usual_shares"].is_null().all()


def test_weights_are_those_of_players_and_ten_from_anywhere() -> None:
    sure = np.where(np.arange(SHARES.size) == 3, 0.0, -1e3)
    np.testing.assert_allclose(usual_weights(np.tile(sure, (30, 1)))[3], (10 * QUIET[3] + 30) / 40, atol=1e-9)
    np.testing.assert_allclose(usual_weights(np.empty((0, SHARES.size))), QUIET)


def test_what_shots_say_of_a_session_is_the_same_whichever_stand_beside() -> None:
    whole = squad(6, 8)
    together = told_by_shots(whole)
    for begin in range(0, whole.height, 37):
        for one, alone in zip(together, told_by_shots(whole[begin : begin + 5]), strict=True):
            assert np.array_equal(one[begin : begin + 5], alone)


def test_the_likelihood_of_a_share_is_largest_near_the_true_one() -> None:
    rng = np.random.default_rng(5)
    few, many = (log_likelihood_of_shares(*told_by_shots(player(rng, "p", 80, share))) for share in (0.01, 0.15))
    assert SHARES[few.argmax()] <= 0.02
    assert 0.10 <= SHARES[many.argmax()] <= 0.15


def test_beside_what_is_usual_in_the_squad_chance_looks_less_often_like_a_rise() -> None:
    """Own simulation: no share of the grid fits both how far shots end and which lost ball speed, so that runs of chance rise."""
    told = with_usual_shares(squad(7, 60), Estimates())
    n_small = np.zeros(2)
    for own in told.partition_by("player_id", maintain_order=True):
        day, at = own["on_date"].cast(pl.Int32).cast(pl.Float64).to_numpy(), np.arange(24, own.height)
        told_by = told_by_shots(own)
        for way, usual in enumerate((None, quiet_shares(own["usual_shares"][at]))):
            n_small[way] += (chance_of_ratio(log_ratios_of_rise(day, *told_by, at, usual)[0]) < 0.05).sum()
    assert n_small[1] < 0.75 * n_small[0]
