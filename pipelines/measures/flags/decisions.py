"""Where a decided flag stands: under decision, its date passed, grown since, or no longer raised by corrected data."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.flags.rules import RULES

if TYPE_CHECKING:
    from datetime import date

MOVED_DAYS = 21
GROWN_BY = 1.25
"""A flag that corrected data raise up to 21 days earlier or later is the same; a quarter stronger than when decided is grown.
Own choices."""

_STATE_SCHEMA: dict[str, pl.DataType] = {
    "flag_id": pl.String(),
    "decided_flag_id": pl.String(),
    "player_id": pl.String(),
    "state": pl.String(),
    "role": pl.String(),
    "decision": pl.String(),
    "decided_on": pl.Date(),
    "until": pl.Date(),
    "note": pl.String(),
    "n_decisions": pl.Int64(),
}


def carried_flags(subjects: pl.DataFrame, flags: pl.DataFrame) -> pl.DataFrame:
    """The flag that each decided flag is today: the same id, or the nearest of the same player, kind and region.

    Parameters
    ----------
    subjects : polars.DataFrame
        flag_id, player_id, kind, region, raised_on of decided flags; the region is empty where none applies.
    flags : polars.DataFrame
        flag_id, player_id, kind, region, raised_on of flags as they are now.

    Returns
    -------
    polars.DataFrame
        decided_flag_id, flag_id; nothing for a decided flag that no flag fits.

    Notes
    -----
    Corrected data may raise a flag on another day, and the id changes with the day. A flag at most 21 days apart counts as the
    same.
    """
    by_region = [kind for kind, rule in RULES.items() if "region" in rule.apart_by]
    region = pl.when(pl.col("kind").is_in(by_region)).then("region").otherwise(pl.lit("")).alias("apart")
    now = flags.select("player_id", "kind", region, pl.col("flag_id").alias("now_id"), pl.col("raised_on").alias("now_on"))
    pairs = (
        subjects.select("flag_id", "player_id", "kind", region, "raised_on")
        .join(now, on=["player_id", "kind", "apart"], how="inner")
        .with_columns(away=(pl.col("now_on") - pl.col("raised_on")).abs(), is_other=pl.col("flag_id") != pl.col("now_id"))
        .filter(~pl.col("is_other") | (pl.col("away") <= timedelta(days=MOVED_DAYS)))
        .sort("flag_id", "is_other", "away", "now_id")
    )
    return pairs.unique("flag_id", keep="first", maintain_order=True).select(
        pl.col("flag_id").alias("decided_flag_id"), pl.col("now_id").alias("flag_id")
    )


def decision_states(
    decisions: pl.DataFrame, subjects: pl.DataFrame, flags: pl.DataFrame, nights: pl.DataFrame, as_of: date
) -> pl.DataFrame:
    """State of every decided flag on a night; the last decision counts, a physio's before a coach's of the same day.

    Parameters
    ----------
    decisions : polars.DataFrame
        flag_id, decided_on, role, decision, until, note; every decision ever made.
    subjects : polars.DataFrame
        As for :func:`carried_flags`.
    flags : polars.DataFrame
        flag_id, player_id, kind, region, raised_on, alerted_on of flags as they are now.
    nights : polars.DataFrame
        player_id, kind, region, on_date, strength of the nights on which a rule opened or held.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        flag_id (as it is now), decided_flag_id, player_id, state, role, decision, decided_on, until, note, n_decisions; one row
        per flag.

    Notes
    -----
    ``grown``: an alert since the decision, or a night since then that is 1.25 times as strong as any night of the flag up to the
    decision. ``date_passed``: ``until`` lies before the night. Both bring the flag back to the lists, with the decision beside
    it.
    """
    carried = subjects.join(carried_flags(subjects, flags), left_on="flag_id", right_on="decided_flag_id", how="left")
    told = carried.select(pl.col("flag_id").alias("decided_flag_id"), "player_id", pl.col("flag_id_right").alias("now_id"))
    made = (
        decisions.filter(pl.col("decided_on") <= as_of)
        .rename({"flag_id": "decided_flag_id"})
        .join(told, on="decided_flag_id", how="inner")
        .with_columns(flag_id=pl.coalesce("now_id", "decided_flag_id"))
        .sort("flag_id", "decided_on", pl.col("role") == "physio")
    )
    last = made.group_by("flag_id", maintain_order=True).agg(
        pl.col("decided_flag_id", "player_id", "role", "decision", "decided_on", "until", "note", "now_id").last(),
        pl.len().cast(pl.Int64).alias("n_decisions"),
    )
    grown = last.join(_strengths(last, flags, nights), on="flag_id", how="left").join(
        flags.select("flag_id", "alerted_on"), on="flag_id", how="left"
    )
    stronger = (pl.col("since") > GROWN_BY * pl.col("before")).fill_null(value=False)
    alerted = (pl.col("alerted_on") > pl.col("decided_on")).fill_null(value=False)
    state = (
        pl.when(pl.col("now_id").is_null())
        .then(pl.lit("no_flag"))
        .when(stronger | alerted)
        .then(pl.lit("grown"))
        .when((pl.col("until") < as_of).fill_null(value=False))
        .then(pl.lit("date_passed"))
        .otherwise(pl.lit("under_decision"))
    )
    return grown.with_columns(state=state).select(pl.col(name).cast(dtype) for name, dtype in _STATE_SCHEMA.items())


def _strengths(last: pl.DataFrame, flags: pl.DataFrame, nights: pl.DataFrame) -> pl.DataFrame:
    """Greatest strength of each flag's nights up to its decision, and since."""
    by_region = [kind for kind, rule in RULES.items() if "region" in rule.apart_by]
    apart = pl.when(pl.col("kind").is_in(by_region)).then("region").otherwise(pl.lit("")).alias("apart")
    keyed = flags.select("flag_id", "player_id", "kind", apart, "raised_on")
    spoken = nights.select("player_id", "kind", apart, "on_date", "strength")
    mine = (
        last.select("flag_id", "decided_on")
        .join(keyed, on="flag_id")
        .join(spoken, on=["player_id", "kind", "apart"])
        .filter(pl.col("on_date") >= pl.col("raised_on"))
    )
    after = pl.col("on_date") > pl.col("decided_on")
    return mine.group_by("flag_id").agg(
        before=pl.col("strength").filter(~after).max(), since=pl.col("strength").filter(after).max()
    )
