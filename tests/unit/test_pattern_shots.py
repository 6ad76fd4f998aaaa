"""Which shots stand behind the pattern of a month."""

from __future__ import annotations

from datetime import date

import polars as pl

from tests.unit.test_month_patterns import shots, table


def test_shots_without_a_direction_stand_behind_no_pattern() -> None:
    """Half of the sessions come from a device that gives none: the pattern rests on the others, and says so."""
    month = shots("a", date(2025, 3, 1), 90)
    half = pl.when(pl.col("session_id").str.ends_with("-3")).then(None)
    without = month.with_columns(half.otherwise(pl.col(name)).alias(name) for name in ("direction_deg", "offline_m"))
    n_with = without["direction_deg"].count()
    assert table(without)["n_shots"].to_list() == [n_with]
    assert table(without.with_columns(direction_deg=pl.lit(None, dtype=pl.Float64)))["n_shots"].to_list() == [0]
