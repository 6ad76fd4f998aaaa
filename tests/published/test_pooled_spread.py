"""Standard deviation within groups, pooled.

Source: [NistPooled], from memory: miles per gallon of American cars (249, SD 6.41470) and Japanese ones (79, SD 6.10771) have the
pooled standard deviation 6.34260. Its interval is held to that of chi-square for normal values (scipy).
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from scipy.stats import chi2

from pipelines.measures.scatter.pooled import month_spread, recent_spread

MARCH = dt.date(2026, 3, 1)


def sessions(*rows: tuple[int, float | None]) -> pl.DataFrame:
    return pl.DataFrame(
        [
            {
                "player_id": "p1",
                "club_group": "driver",
                "month_on": MARCH,
                "club_speed_mps_n": n,
                "offline_m_n": n,
                "offline_m_spread": spread,
                "carry_m_n": n,
                "carry_m_spread": None if spread is None else 2 * spread,
            }
            for n, spread in rows
        ],
        schema_overrides={"offline_m_spread": pl.Float64, "carry_m_spread": pl.Float64},
    )


def test_two_makes_of_cars() -> None:
    printed = sessions((249, 6.41470), (79, 6.10771))
    (row,) = month_spread(printed).to_dicts()
    assert row["lateral_spread_m"] == pytest.approx(6.34260, abs=5e-6)
    assert row["depth_spread_m"] == pytest.approx(2 * 6.34260, abs=1e-5)
    assert recent_spread(printed).row(0)[:3] == ("p1", 328, pytest.approx(6.34260, abs=5e-6))


def test_it_is_the_spread_about_each_sessions_own_middle() -> None:
    rng = np.random.default_rng(5)
    days = [rng.normal(middle, 9.0, n) for middle, n in ((-20.0, 12), (3.0, 30), (25.0, 7))]
    about_own = np.concatenate([day - day.mean() for day in days])
    expected = np.sqrt(np.sum(about_own**2) / (about_own.size - len(days)))
    found = month_spread(sessions(*((day.size, float(day.std(ddof=1))) for day in days)))
    assert found["lateral_spread_m"].item() == pytest.approx(expected, rel=1e-12)


def test_the_interval_is_a_tenth_wider_than_that_of_chi_square_where_sessions_are_alike() -> None:
    """Source: the interval of a standard deviation by chi-square, from scipy; ours has .6 in place of .5 for the tails."""
    df = 9 * 31
    (row,) = recent_spread(sessions(*[(32, 8.0)] * 9)).to_dicts()
    chance = 8.0 * np.sqrt(df / chi2.ppf([0.95, 0.05], df))
    ours = np.log([row["lateral_spread_low_m"] / 8.0, row["lateral_spread_high_m"] / 8.0])
    assert ours == pytest.approx(np.log(chance / 8.0) * np.sqrt(0.6 / 0.5), rel=0.05)


@pytest.mark.parametrize(("tails", "wobble"), [(None, 0.0), (None, 0.2), (5.0, 0.0), (4.0, 0.1)])
def test_the_interval_holds_the_spread_in_nine_of_ten(tails: float | None, wobble: float) -> None:
    """Own simulation, seeded: 1,500 players of eight sessions of 30 shots; tails of t; days that are wide or narrow."""
    rng, size = np.random.default_rng(11), (1500, 8, 30)
    shots = rng.standard_normal(size) if tails is None else rng.standard_t(tails, size) / np.sqrt(tails / (tails - 2))
    days = (shots * np.exp(wobble * rng.standard_normal((1500, 8, 1)))).std(axis=2, ddof=1)
    spreads = pl.DataFrame({"player_id": np.repeat(np.arange(1500), 8), "offline_m_spread": days.ravel()})
    found = recent_spread(spreads.with_columns(offline_m_n=30, club_speed_mps_n=30))
    held = found.select(pl.lit(np.exp(wobble**2)).is_between("lateral_spread_low_m", "lateral_spread_high_m").mean()).item()
    assert 0.83 <= held <= 0.95


def test_one_session_is_known_by_its_shots_alone_and_one_without_any_spread_not_at_all() -> None:
    (row,) = recent_spread(sessions((31, 8.0), (4, None))).to_dicts()
    assert np.log(row["lateral_spread_high_m"] / 8.0) == pytest.approx(1.6448536 * np.sqrt(0.6 / 30))
    (row,) = recent_spread(sessions((31, 0.0))).to_dicts()
    assert (row["lateral_spread_28_m"], row["lateral_spread_low_m"]) == (0.0, None)


def test_a_session_without_a_spread_has_no_part_in_it_and_none_at_all_is_unknown() -> None:
    assert month_spread(sessions((10, 6.0), (2, None)))["lateral_spread_m"].item() == pytest.approx(6.0)
    assert month_spread(sessions((2, None)))["lateral_spread_m"].item() is None
    assert recent_spread(sessions((2, None), (1, None))).row(0) == ("p1", 3, None, None, None)


def test_months_groups_and_players_are_kept_apart() -> None:
    one = sessions((10, 6.0))
    other = [
        one.with_columns(month_on=pl.lit(dt.date(2026, 4, 1)), offline_m_spread=pl.lit(7.0)),
        one.with_columns(club_group=pl.lit("iron"), offline_m_spread=pl.lit(8.0)),
        one.with_columns(player_id=pl.lit("p0"), offline_m_spread=pl.lit(9.0)),
    ]
    found = month_spread(pl.concat([one, *other]))
    assert found.select("player_id", "club_group", "month_on", "lateral_spread_m").rows() == [
        ("p0", "driver", MARCH, 9.0),
        ("p1", "driver", MARCH, 6.0),
        ("p1", "driver", dt.date(2026, 4, 1), 7.0),
        ("p1", "iron", MARCH, 8.0),
    ]
