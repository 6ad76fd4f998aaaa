"""Lead and trail, left and right."""

from __future__ import annotations

import polars as pl

_OTHER = {"right": "left", "left": "right"}


def player_sides(players: pl.DataFrame) -> pl.DataFrame:
    """The anatomical side of each player's lead and trail regions.

    Parameters
    ----------
    players : polars.DataFrame
        player_id, handed: ``right``, ``left``, or null.

    Returns
    -------
    polars.DataFrame
        player_id, lead_side, trail_side: ``left`` or ``right``; null when the hand is not known. Sorted.

    Notes
    -----
    Lead is the side nearer the target: left for a player who swings from the right. Common practice.
    Checked: tests/unit/test_body_side.py
    """
    trail = pl.col("handed").replace_strict({hand: hand for hand in _OTHER}, default=None, return_dtype=pl.String)
    lead = pl.col("handed").replace_strict(_OTHER, default=None, return_dtype=pl.String)
    return players.select("player_id", lead_side=lead, trail_side=trail).sort("player_id")
