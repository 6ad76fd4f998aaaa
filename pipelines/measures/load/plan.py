"""What was done against what was planned, week by week."""

from __future__ import annotations

import polars as pl

_PAIRS = {"swings_full": "planned_swings_full", "swings_full_effort": "planned_swings_speed", "minutes": "planned_minutes"}


def week_load(day_rows: pl.DataFrame, plans: pl.DataFrame) -> pl.DataFrame:
    """Load of each player and week (Monday first) with the plan beside it.

    Parameters
    ----------
    day_rows : polars.DataFrame
        As :func:`pipelines.measures.load.day.day_load` returns them: known days only.
    plans : polars.DataFrame
        player_id, week_starting, swings_full, swings_speed, minutes.

    Returns
    -------
    polars.DataFrame
        player_id, week_starting, n_days_known, n_rest_days, sums over the known days (null when one of them lacks the number),
        holes, the plan, and ``done_share_*``: done over planned, null unless at least 5 of 7 days are known and the plan is
        above 0.

    Notes
    -----
    The share scales the done sum by the days present: ``done * 7 / n_days_known / planned``.
    """
    sums = ("swings_full", "swings_part", "swings_dry", "swings_all", "swings_full_effort", "minutes", "effort_min")
    weeks = day_rows.group_by("player_id", pl.col("on_date").dt.truncate("1w").alias("week_starting")).agg(
        pl.len().cast(pl.Int64).alias("n_days_known"),
        pl.col("is_rest").sum().cast(pl.Int64).alias("n_rest_days"),
        *(pl.when(pl.col(name).is_not_null().all()).then(pl.col(name).sum()).alias(name) for name in sums),
        pl.col("holes").sum().alias("holes"),
    )
    planned = plans.select(
        "player_id",
        "week_starting",
        pl.col("swings_full").alias("planned_swings_full"),
        pl.col("swings_speed").alias("planned_swings_speed"),
        pl.col("minutes").alias("planned_minutes"),
    )
    joined = weeks.join(planned, on=["player_id", "week_starting"], how="full", coalesce=True)
    return joined.with_columns(
        pl.col("n_days_known", "n_rest_days").fill_null(0), *(_share(done, plan) for done, plan in _PAIRS.items())
    ).sort("player_id", "week_starting")


def _share(done: str, planned: str) -> pl.Expr:
    enough = (pl.col("n_days_known") >= 5) & (pl.col(planned) > 0)
    share = pl.col(done) * 7 / pl.col("n_days_known") / pl.col(planned)
    return pl.when(enough).then(share).alias(f"done_share_{done}")
