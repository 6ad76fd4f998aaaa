"""What trials can use of what surrounds them: days and plans within their reach; a day long after them tells nothing of them."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.programme.phases import phase_weeks
from pipelines.stages.measure.trial_aftermath import MONTHS_AROUND, PHASES_AFTER, PHASES_BEFORE

if TYPE_CHECKING:
    from collections.abc import Mapping

WEEKS_BEFORE = timedelta(days=28)
"""Reports and load of these weeks before a trial are what its own are held against."""
LAST_WEEK = timedelta(days=2)
"""Reports of so many days after its last shots are still the trial's."""


def within_reach(around: Mapping[str, pl.DataFrame], shots: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """The rows around trials that can tell anything of them.

    Parameters
    ----------
    around : mapping
        swings, session_clubs (on_date), checkins (date), plans (week_starting, phase), each with player_id.
    shots : polars.DataFrame
        player_id, on_date of every shot of a trial: they span the player's trials.

    Returns
    -------
    dict
        Of players with such shots: swings and checkins from four weeks before the first of them to two days after the last; weeks
        of phases that touch half a year before to a quarter after; sessions from twelve weeks before the first day, or the first
        of these phases, to twelve weeks after the last day, or the end of the last phase. Order is kept.
    """
    spans = shots.group_by("player_id").agg(pl.col("on_date").min().alias("first"), pl.col("on_date").max().alias("last"))
    near = {"begin": pl.col("first") - WEEKS_BEFORE, "end": pl.col("last") + LAST_WEEK}
    plans = phase_weeks(around["plans"]).join(spans, on="player_id", maintain_order="left")
    touched = plans.filter(
        pl.col("ended_on") >= pl.col("first") - PHASES_BEFORE, pl.col("began_on") <= pl.col("last") + PHASES_AFTER
    )
    phases = touched.group_by("player_id").agg(pl.col("began_on").min(), pl.col("ended_on").max())
    far = {
        "begin": pl.min_horizontal("first", "began_on") - MONTHS_AROUND,
        "end": pl.max_horizontal(pl.col("last") + MONTHS_AROUND, "ended_on"),
    }
    wide = spans.join(phases, on="player_id", how="left")
    return {
        "swings": _between(around["swings"], "on_date", spans.with_columns(**near)),
        "checkins": _between(around["checkins"], "date", spans.with_columns(**near)),
        "session_clubs": _between(around["session_clubs"], "on_date", wide.with_columns(**far)),
        "plans": touched.select(around["plans"].columns),
    }


def _between(rows: pl.DataFrame, day: str, spans: pl.DataFrame) -> pl.DataFrame:
    joined = rows.join(spans.select("player_id", "begin", "end"), on="player_id", maintain_order="left")
    return joined.filter(pl.col(day).is_between("begin", "end")).select(rows.columns)
