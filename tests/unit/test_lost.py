"""Shots that lost ball speed: counted by hand, and their chances written out with the error function of the standard library."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import polars as pl
import pytest

from pipelines.measures.scatter.lost import ANYWAY, WITH_WIDE, loss_log_likelihoods, lost_counts, with_lost_shots
from pipelines.measures.scatter.rings import EDGES, SHARES


def sessions(spread: list[float], lost: list[list[float] | None]) -> pl.DataFrame:
    """Sessions of one player, day by day; the shots that lost ball speed ended 1, 2 and more deviations to a side."""
    side = [None if one is None else [float(number) for number in range(1, len(one) + 1)] for one in lost]
    return pl.DataFrame(
        {
            "on_date": [dt.date(2026, 1, 1) + dt.timedelta(days=one) for one in range(len(spread))],
            "speed_ratio_spread": spread,
            "speed_ratio_lost": lost,
            "speed_ratio_lost_side": side,
        },
        schema_overrides={name: pl.List(pl.Float64) for name in ("speed_ratio_lost", "speed_ratio_lost_side")},
    ).with_columns(player_id=pl.lit("p"), club_group=pl.lit("driver"), club=pl.lit("driver"), speed_ratio_centre=pl.lit(1.5))


def test_a_shot_lost_ball_speed_by_the_spread_of_the_sessions_before() -> None:
    """Spreads of 1 %: from 2.5 % on; the first four are judged by their own. By its own of 4 % the fifth would have lost none."""
    rows = sessions([0.015, 0.03, 0.015, 0.015, 0.06, 0.015], [[0.02, 0.03], [0.03, 0.06], None, [0.024], [0.02, 0.03, 0.04], []])
    told = with_lost_shots(rows)
    assert told["lost_side"].to_list() == [[2.0], [2.0], None, [], [2.0, 3.0], None]
    assert told.drop("lost_side").equals(rows)


def test_of_a_player_without_club_speed_nothing_is_told() -> None:
    rows = sessions([0.015], [[0.05]]).with_columns(pl.lit(None, dtype=pl.Float64).alias("speed_ratio_spread"))
    assert with_lost_shots(rows)["lost_side"].to_list() == [None]


def test_shots_are_counted_by_ring() -> None:
    counts = lost_counts(2, np.array([0, 0, 0, 1]), np.array([0.2, 3.0, 9.0, 0.7]))
    assert counts.tolist() == [[1, 0, 0, 0, 1, 0, 0, 1], [0, 1, 0, 0, 0, 0, 0, 0]]


def chance(ring: int, share: float, anyway: float, with_wide: float) -> float:
    """Independent: a shot of a ring lost ball speed."""
    low, high = EDGES[ring], EDGES[ring + 1]
    narrow, wide = (math.erfc(low / (sd * math.sqrt(2.0))) - math.erfc(high / (sd * math.sqrt(2.0))) for sd in (1.0, 4.0))
    is_wide = share * wide / ((1.0 - share) * narrow + share * wide)
    return 1.0 - (1.0 - anyway) * (1.0 - is_wide * with_wide)


def test_likelihoods_are_those_of_shots_of_two_parts_of_which_one_loses_more() -> None:
    counts = np.array([[12.0, 8.0, 1.0, 1.0, 0.0, 1.0, 0.0, 1.0]])
    lost = np.array([[1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 1.0]])
    found = loss_log_likelihoods(counts, lost, np.ones(1))
    for share, of_share in zip(SHARES, found[0], strict=True):
        pairs = [(one, other) for one in ANYWAY for other in WITH_WIDE]
        for (anyway, with_wide), log in zip(pairs, of_share, strict=True):
            chances = [chance(ring, float(share), float(anyway), float(with_wide)) for ring in range(8)]
            told = zip(chances, lost[0], counts[0], strict=True)
            expected = sum(k * math.log(p) + (n - k) * math.log1p(-p) for p, k, n in told)
            assert log == pytest.approx(expected, rel=1e-9)


def test_sessions_of_which_too_few_shots_tell_say_nothing_and_others_say_the_same_beside_them() -> None:
    rng = np.random.default_rng(1)
    counts = rng.poisson(4.0, (40, 8)).astype(float)
    lost, told = rng.binomial(1, 0.2, (40, 8)).astype(float), np.where(np.arange(40) % 2, 1.0, 0.2)
    found = loss_log_likelihoods(counts, lost, told)
    assert not found[::2].any()
    assert found[1::2].all()
    assert all(np.array_equal(found[[one]], loss_log_likelihoods(counts[[one]], lost[[one]], told[[one]])) for one in range(40))
