"""Load by week, and what was done against what was planned."""

from __future__ import annotations

import polars as pl

from pipelines.measures.load.windows import WEEK_AT_LEAST, WEEK_DAYS

_SUMMED = ("swings_full", "swings_part", "swings_dry", "swings_all", "swings_full_effort", "minutes", "effort_min")
_PLANNED = ("swings_full", "swings_full_effort", "minutes")


def _complete(name: str) -> pl.Expr:
    """The sum; null when one of the days lacks the number."""
    return pl.when(pl.col(name).is_not_null().all()).then(pl.col(name).sum())


def week_load(day_rows: pl.DataFrame) -> pl.DataFrame:
    """Load of each player and week (Monday first).

    Parameters
    ----------
    day_rows : polars.DataFrame
        As :func:`pipelines.measures.load.day.day_load` returns them: known days only.

    Returns
    -------
    polars.DataFrame
        player_id, week_starting, n_days_known, n_rest_days, sums over the known days (null when one of them lacks the number),
        holes.

    Notes
    -----
    Checked: tests/unit/test_week_load.py
    """
    return (
        day_rows.group_by("player_id", pl.col("on_date").dt.truncate("1w").alias("week_starting"))
        .agg(
            pl.len().cast(pl.Int64).alias("n_days_known"),
            pl.col("is_rest").sum().cast(pl.Int64).alias("n_rest_days"),
            *(_complete(name).alias(name) for name in _SUMMED),
            pl.col("holes").sum().alias("holes"),
        )
        .sort("player_id", "week_starting")
    )


def plan_weeks(day_rows: pl.DataFrame, plans: pl.DataFrame) -> pl.DataFrame:
    """What was done in the seven days of each planned week.

    Parameters
    ----------
    day_rows : polars.DataFrame
        As :func:`pipelines.measures.load.day.day_load` returns them: known days only.
    plans : polars.DataFrame
        player_id, week_starting (any day of the week), swings_full, swings_speed, minutes.

    Returns
    -------
    polars.DataFrame
        player_id, week_starting, n_days_known, the plan, and ``done_*``: the sum over the known days, scaled by their number
        (``sum * 7 / n_days_known``); null below 5 of 7 days, or when one of them lacks the number.

    Notes
    -----
    Checked: tests/unit/test_week_load.py
    """
    last_on = pl.col("week_starting") + pl.duration(days=WEEK_DAYS - 1)
    days = plans.select("player_id", "week_starting", pl.date_ranges("week_starting", last_on).alias("on_date"))
    done = (
        days.explode("on_date")
        .join(day_rows, on=["player_id", "on_date"])
        .sort("player_id", "week_starting", "on_date")
        .group_by("player_id", "week_starting")
        .agg(pl.len().cast(pl.Int64).alias("n_days_known"), *(_complete(name).alias(f"done_{name}") for name in _PLANNED))
    )
    scale = pl.when(pl.col("n_days_known") >= WEEK_AT_LEAST).then(WEEK_DAYS / pl.col("n_days_known"))
    planned = plans.select(
        "player_id",
        "week_starting",
        pl.col("swings_full").alias("planned_swings_full"),
        pl.col("swings_speed").alias("planned_swings_speed"),
        pl.col("minutes").alias("planned_minutes"),
    )
    return (
        planned.join(done, on=["player_id", "week_starting"], how="left")
        .with_columns(pl.col("n_days_known").fill_null(0), *(pl.col(f"done_{name}") * scale for name in _PLANNED))
        .sort("player_id", "week_starting")
    )
