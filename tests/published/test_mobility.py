"""Johnson et al. 2012, J Athl Train 47:52-60 (abstract read): trunk rotation, between-day SEM 1.4-2.0, detectable change
3.9-5.6 deg."""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from pipelines.measures.mobility.change import mobility_changes


def test_the_frame_agrees() -> None:
    rows = pl.DataFrame(
        {
            "player_id": ["P1"] * 3,
            "date": [date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1)],
            "test": ["trunk_turn"] * 3,
            "side": [None, None, None],
            "value_deg": [40.0, 45.0, 46.0],
        },
        schema_overrides={"side": pl.String},
    )
    found = mobility_changes(rows)
    assert found["verdict"].to_list() == [None, "no clear change", "more"]
    assert found["since_last_deg"].to_list() == [None, 5.0, 1.0]
    assert found["side"].to_list() == ["both"] * 3
    # the larger of the two printed errors, 2.0, gives 5.54; printed 5.6 from unrounded errors
    assert found["detectable_deg"].to_list() == pytest.approx([5.6] * 3, abs=0.06)
    assert found["is_published"].to_list() == [True] * 3
