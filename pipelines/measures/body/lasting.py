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
    regions = [name for name in REGION_ITEMS if name in checkins.columns]
    known = checkins.select("player_id", "on_date", *regions).with_columns(
        back=(pl.lit(as_of) - pl.col("on_date")).dt.total_days()
    )
    now = _span(_listed(known.filter(pl.col("back").is_between(0, NOW_DAYS - 1))), "now", NOW_AT_LEAST)
    spans = {"first": _first(known), "year": _listed(known.filter(pl.col("back").is_between(*YEAR_DAYS)))}
    found = [_against(now, _span(rows, "then", BASELINE_AT_LEAST), name) for name, rows in spans.items()]
    return pl.concat(found).sort("player_id", "region", "against")


def _listed(known: pl.DataFrame) -> pl.DataFrame:
    """Answers by region: days are chosen before, for there are a dozen rows a day."""
    told = known.unpivot(index=["player_id", "on_date", "back"]).drop_nulls("value")
    return told.with_columns(region=pl.col("variable").str.strip_prefix("stiff_")).drop("variable")


def _first(known: pl.DataFrame) -> pl.DataFrame:
    """Answers of the first twelve weeks in which a region was asked about, where they are as long behind the last month."""
    regions = [name for name in known.columns if name in REGION_ITEMS]
    asked = (pl.col("on_date").filter(pl.col(name).is_not_null(), pl.col("back") >= 0).min().alias(name) for name in regions)
    begun = known.group_by("player_id").agg(asked)
    last = begun.select("player_id", last_on=pl.max_horizontal(regions))
    early = known.filter(pl.col("back") >= NOW_DAYS + APART_DAYS).join(last, on="player_id")
    near = early.filter(pl.col("on_date") < pl.col("last_on") + pl.duration(days=FIRST_DAYS)).drop("last_on")
    of_region = begun.unpivot(index="player_id", variable_name="region", value_name="begun_on")
    told = _listed(near).join(of_region.with_columns(pl.col("region").str.strip_prefix("stiff_")), on=["player_id", "region"])
    return told.filter(pl.col("on_date") < pl.col("begun_on") + pl.duration(days=FIRST_DAYS)).drop("begun_on")


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
