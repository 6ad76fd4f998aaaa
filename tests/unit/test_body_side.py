"""Lead is the side nearer the target. Common practice of the trade, without a source."""

from __future__ import annotations

import polars as pl

from pipelines.measures.body.side import player_sides


def test_the_lead_side_is_left_for_a_right_handed_player_and_right_for_a_left_handed_one() -> None:
    players = pl.DataFrame({"player_id": ["p3", "p1", "p2"], "handed": [None, "right", "left"]})
    assert player_sides(players).rows() == [("p1", "left", "right"), ("p2", "right", "left"), ("p3", None, None)]
