"""The flags as they stood on a night, from the log of what happened to them."""

from __future__ import annotations

import datetime as dt

import polars as pl

from pipelines.measures.flags.engine import CLOSINGS


def flags_as_of(flags: pl.DataFrame, events: pl.DataFrame, night: dt.date) -> pl.DataFrame:
    """Flags raised by that night, with level, closing day and evidence as they were known then.

    Parameters
    ----------
    flags, events : polars.DataFrame
        Of :class:`pipelines.measures.flags.engine.FlagHistory`.
    night : datetime.date

    Returns
    -------
    polars.DataFrame
        Columns of ``flags``; ordered by raised_on and id.
    """
    past = events.filter(pl.col("on_date") <= night)
    speaking = past.filter(pl.col("event").is_in(["raised", "alerted"])).group_by("flag_id", maintain_order=True).last()
    latest = past.group_by("flag_id", maintain_order=True).last().select("flag_id", "level", "led_by")
    alerted = (
        past.filter(pl.col("event") == "alerted")
        .group_by("flag_id", maintain_order=True)
        .agg(pl.col("on_date").last().alias("alerted_on"))
    )
    over = past.filter(pl.col("event").is_in(CLOSINGS)).select(
        "flag_id", pl.col("on_date").alias("closed_on"), pl.col("event").alias("closed_because")
    )
    fixed = flags.select("flag_id", "player_id", "kind", "audience", "raised_on")
    joined = (
        fixed.join(speaking.drop("on_date", "event", "level", "led_by"), on="flag_id", how="inner")
        .join(latest, on="flag_id", how="left")
        .join(alerted, on="flag_id", how="left")
        .join(over, on="flag_id", how="left")
    )
    shown = joined.with_columns(
        pl.col("closed_because").fill_null(""),
        pl.when(pl.col("level") == "alert").then(pl.col("alerted_on")).alias("alerted_on"),
    )
    return shown.select(flags.columns).sort("raised_on", "flag_id")
