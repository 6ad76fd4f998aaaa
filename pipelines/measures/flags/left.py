"""Flags of players who have left: they ask nobody for anything any more."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.flags.engine import FlagHistory

if TYPE_CHECKING:
    import datetime as dt

LEFT = "left"


def closed_where_left(history: FlagHistory, players: pl.DataFrame, as_of: dt.date) -> FlagHistory:
    """The same, with what was open of a player on the day of leaving closed on that day; what was raised later, at once.

    Parameters
    ----------
    history : FlagHistory
    players : polars.DataFrame
        player_id, left_on (null: still here; somebody has left from that day on).
    as_of : datetime.date
        Who leaves later is still here.

    Returns
    -------
    FlagHistory
        What happened to such a flag after it was closed is taken out of the events.

    Checked: tests/unit/test_flags_of_who_left.py
    """
    left = players.filter(pl.col("left_on") <= as_of).select("player_id", "left_on")
    flags = history.flags.join(left, on="player_id", how="left", maintain_order="left")
    ends_on = pl.max_horizontal("left_on", "raised_on")
    is_ended = pl.col("left_on").is_not_null() & (pl.col("closed_on").is_null() | (pl.col("closed_on") > ends_on))
    is_late = is_ended & (pl.col("alerted_on") > ends_on).fill_null(value=False)
    ended = flags.filter(is_ended).select("flag_id", ends_on.alias("ends_on"))
    told = flags.with_columns(
        pl.when(is_ended).then(ends_on).otherwise("closed_on").alias("closed_on"),
        pl.when(is_ended).then(pl.lit(LEFT)).otherwise("closed_because").alias("closed_because"),
        pl.when(is_late).then(pl.lit("notice")).otherwise("level").alias("level"),
        pl.when(is_late).then(None).otherwise("alerted_on").alias("alerted_on"),
    ).drop("left_on")
    events = history.events.join(ended, on="flag_id", how="left", maintain_order="left")
    before = events.filter(pl.col("ends_on").is_null() | (pl.col("on_date") <= pl.col("ends_on")))
    last = before.filter(pl.col("ends_on").is_not_null()).group_by("flag_id", maintain_order=True).last()
    leaving = last.with_columns(pl.col("ends_on").alias("on_date"), pl.lit(LEFT).alias("event"))
    both = pl.concat([before, leaving.select(before.columns)]).drop("ends_on")
    return FlagHistory(told, both.sort("on_date", "flag_id", maintain_order=True))
