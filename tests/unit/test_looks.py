"""How often players come, counted by hand."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from pipelines.measures.flags.looks import share_of_looks

DAY = dt.date(2026, 3, 2)


def shares(*days: int, player: str = "p1") -> pl.DataFrame:
    return pl.DataFrame({"player_id": player, "on_date": [DAY + dt.timedelta(days=day) for day in days]})


def test_it_is_told_by_the_last_twelve_sessions_of_a_player_within_a_third_and_one() -> None:
    """Twelve sessions in 56 days are 6.52 a month of 30.44 days; three a week are 13."""
    daily, fortnightly = shares(*range(14)), shares(*range(0, 14 * 14, 14), player="p2")
    mixed = shares(*range(11), 40, 56, 57, player="p3")
    found = pl.concat([daily, fortnightly, mixed]).with_columns(share=share_of_looks(("player_id",)))
    told = found["share"].to_list()
    assert told[:14] == [1.0] * 14
    assert told[14:26] == [1.0] * 12  # fewer came before
    assert told[26:28] == pytest.approx([1.0 / 3.0] * 2)
    assert told[28:40] == [1.0] * 12
    assert told[40:] == pytest.approx([12 * 365.25 / 12 / 13 / 56] * 2)
