"""Standard deviation within groups, pooled.

Source: [NistPooled], from memory: miles per gallon of American cars (249, SD 6.41470) and Japanese ones (79, SD 6.10771) have the
pooled standard deviation 6.34260.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

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
    assert recent_spread(printed).row(0) == ("p1", 328, pytest.approx(6.34260, abs=5e-6))


def test_it_is_the_spread_about_each_sessions_own_middle() -> None:
    rng = np.random.default_rng(5)
    days = [rng.normal(middle, 9.0, n) for middle, n in ((-20.0, 12), (3.0, 30), (25.0, 7))]
    about_own = np.concatenate([day - day.mean() for day in days])
    expected = np.sqrt(np.sum(about_own**2) / (about_own.size - len(days)))
    found = month_spread(sessions(*((day.size, float(day.std(ddof=1))) for day in days)))
    assert found["lateral_spread_m"].item() == pytest.approx(expected, rel=1e-12)


def test_a_session_without_a_spread_has_no_part_in_it_and_none_at_all_is_unknown() -> None:
    assert month_spread(sessions((10, 6.0), (2, None)))["lateral_spread_m"].item() == pytest.approx(6.0)
    assert month_spread(sessions((2, None)))["lateral_spread_m"].item() is None
    assert recent_spread(sessions((2, None), (1, None))).row(0) == ("p1", 3, None)


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
