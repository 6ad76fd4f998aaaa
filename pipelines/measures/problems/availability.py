"""Whether a player can train: full, modified or not available, and never why."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl

FORM_COUNTS_DAYS = 13
SILENT_DAYS = 28


def availability(players: pl.DataFrame, absences: pl.DataFrame, forms: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """State of each player on a day.

    Parameters
    ----------
    players : polars.DataFrame
        player_id, agreed (to body reports being kept), last_told_on (last answer or form; null: never).
    absences : polars.DataFrame
        player_id, began_on, ended_on (null while it lasts).
    forms : polars.DataFrame
        player_id, week_ending, participation, modified: the weekly form.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        player_id, state: ``not_available`` during an absence or when the last form says that taking part was impossible;
        ``modified`` when it says that taking part or practice was affected; ``not_known`` after 28 days without an
        answer or form; ``full`` otherwise; ``not_shared`` without consent.
        Sorted.

    Notes
    -----
    Only a form of the last two weeks counts. The rule is our own.
    """
    away = absences.filter((pl.col("began_on") <= as_of) & (pl.col("ended_on").is_null() | (pl.col("ended_on") >= as_of)))
    current = forms.filter(pl.col("week_ending").is_between(as_of - timedelta(days=FORM_COUNTS_DAYS), as_of))
    newest = pl.col("week_ending") == pl.col("week_ending").max().over("player_id")
    last = (
        current.filter(newest)
        .group_by("player_id")
        .agg(
            cannot=(pl.col("participation") == 3).any(),
            affected=((pl.col("participation") > 0) | (pl.col("modified").fill_null(0) > 0)).any(),
        )
    )
    state = (
        pl.when(~pl.col("agreed"))
        .then(pl.lit("not_shared"))
        .when(pl.col("is_away") | pl.col("cannot"))
        .then(pl.lit("not_available"))
        .when(pl.col("affected"))
        .then(pl.lit("modified"))
        .when(pl.col("last_told_on").is_null() | (pl.col("last_told_on") < as_of - timedelta(days=SILENT_DAYS)))
        .then(pl.lit("not_known"))
        .otherwise(pl.lit("full"))
    )
    return (
        players.join(away.select("player_id", is_away=True).unique(), on="player_id", how="left")
        .join(last, on="player_id", how="left")
        .with_columns(pl.col("is_away", "cannot", "affected").fill_null(value=False))
        .select("player_id", state=state)
        .sort("player_id")
    )
