"""What lasts of stiffness: the answers of the last month against the first ones, and against those of a year ago."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.body.baseline import BASELINE_AT_LEAST, BASELINE_INFLATION, SPREAD_FLOOR
from pipelines.measures.body.items import REGION_ITEMS
from pipelines.measures.grouping import by_group
from pipelines.measures.reach import student_reach

if TYPE_CHECKING:
    import datetime as dt

NOW_DAYS, NOW_AT_LEAST = 28, 8
FIRST_DAYS, APART_DAYS = 84, 84
YEAR_DAYS = (323, 407)
"""A year ago: six weeks on either side."""
WORTHWHILE = 1.0
"""A point of the scale. Own choice, as for the flag."""
RECENT_INFLATION = 1.8
"""Allows for days of a month that resemble the day before (autocorrelation near .4). Own choice."""


def lasting_stiffness(checkins: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    """Total change of stiffness by region since the first answers, and since a year ago.

    Parameters
    ----------
    checkins : polars.DataFrame
        player_id, on_date and an answer (0 to 10) for each region; null: not answered. Only players who agreed.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        Rows of ``body_lasting``. ``then_on``: last day of the answers compared with.

    Notes
    -----
    Difference of the means of the last 28 days (at least 8 answers) and of 84 days (at least 14), with a 90 % interval of
    Student's t: pooled variance of the answers, never below the floor of the own normal, and its allowances for answers that
    resemble the day before. The reference does not move with the answers: what has stayed for months is told, whatever has
    become the own normal meanwhile.

    Source: derived here
    Checked: tests/unit/test_lasting_load_body.py
    """
    told = (
        checkins.filter(pl.col("on_date") <= as_of)
        .unpivot([name for name in REGION_ITEMS if name in checkins.columns], index=["player_id", "on_date"])
        .drop_nulls("value")
        .select("player_id", "on_date", pl.col("variable").str.strip_prefix("stiff_").alias("region"), "value")
        .with_columns(
            back=(pl.lit(as_of) - pl.col("on_date")).dt.total_days(),
            since=(pl.col("on_date") - pl.col("on_date").min().over("player_id", "region")).dt.total_days(),
        )
    )
    now = _span(told.filter(pl.col("back") < NOW_DAYS), "now", NOW_AT_LEAST)
    first = told.filter(pl.col("since") < FIRST_DAYS, pl.col("back") >= NOW_DAYS + APART_DAYS)
    spans = {"first": first, "year": told.filter(pl.col("back").is_between(*YEAR_DAYS))}
    found = [_against(now, _span(rows, "then", BASELINE_AT_LEAST), name) for name, rows in spans.items()]
    return pl.concat(found).sort("player_id", "region", "against")


def _span(told: pl.DataFrame, name: str, at_least: int) -> pl.DataFrame:
    return (
        by_group(told.sort("on_date"), ["player_id", "region"])
        .agg(
            pl.col("value").mean().alias(f"{name}_level"),
            pl.col("value").var().fill_null(0.0).alias(f"var_{name}"),
            pl.len().cast(pl.Int64).alias(f"n_{name}"),
            pl.col("on_date").max().alias(f"{name}_on"),
        )
        .filter(pl.col(f"n_{name}") >= at_least)
    )


def _against(now: pl.DataFrame, then: pl.DataFrame, against: str) -> pl.DataFrame:
    both = now.join(then, on=["player_id", "region"])
    n_now, n_then = pl.col("n_now"), pl.col("n_then")
    pooled = ((n_now - 1) * pl.col("var_now") + (n_then - 1) * pl.col("var_then")) / (n_now + n_then - 2)
    error = (pl.max_horizontal(pooled, pl.lit(SPREAD_FLOOR**2)) * (RECENT_INFLATION / n_now + BASELINE_INFLATION / n_then)).sqrt()
    reach = student_reach(both.select((n_now + n_then - 2).alias("freedom"))["freedom"])
    measured = both.with_columns(
        (pl.col("now_level") - pl.col("then_level")).alias("change"),
        (error * reach).alias("half"),
    )
    return measured.select(
        *("player_id", "region", pl.lit(against).alias("against"), "then_on", "then_level", "now_on", "now_level", "change"),
        (pl.col("change") - pl.col("half")).alias("change_low"),
        (pl.col("change") + pl.col("half")).alias("change_high"),
        *("n_then", "n_now"),
        ((pl.col("change").abs() > pl.col("half")) & (pl.col("change").abs() >= WORTHWHILE)).alias("lasts"),
    )
