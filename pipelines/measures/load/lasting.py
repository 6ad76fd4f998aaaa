"""What lasts of load: the weeks of the last month against the first ones that are known, and against those of a year ago."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.grouping import by_group
from pipelines.measures.load.windows import WEEK_AT_LEAST, WEEK_DAYS
from pipelines.measures.reach import student_reach

if TYPE_CHECKING:
    import datetime as dt

NOW_WEEKS, NOW_AT_LEAST = 4, 3
FIRST_WEEKS, THEN_AT_LEAST, APART_WEEKS = 12, 6, 12
YEAR_WEEKS = (46, 58)
"""A year ago: weeks that lie so many weeks back."""
WORTHWHILE = 100.0 * math.log(1.25)
"""Smallest worthwhile change of load [100 times the logarithm]: a quarter more. Own choice."""
RESEMBLANCE = 1.5
"""Factor on the variance of means of weeks, since a week resembles the one before (autocorrelation near .2). Own choice."""


def lasting_load(days: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    """Total change of a week's swings since the first known weeks, and since a year ago.

    Parameters
    ----------
    days : polars.DataFrame
        player_id, on_date, swings_all; null: unknown. A rest day is a known 0.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        Rows of ``lasting_difference`` for ``week_swings``; ``n_then`` and ``n_now`` are weeks.

    Notes
    -----
    Weeks of seven days back from ``as_of``, scaled by the days known, at least 5. ``100 ln(mean now / mean then)`` with a 90 %
    interval of Student's t on the pooled relative variance of the weeks. The reference does not move: a load that has crept up
    in steps of a fifth is told with all of them.

    Source: derived here
    Checked: tests/unit/test_lasting_load_body.py
    """
    back = (pl.lit(as_of) - pl.col("on_date")).dt.total_days() // WEEK_DAYS
    known = days.filter(pl.col("on_date") <= as_of, pl.col("swings_all").is_not_null()).with_columns(back.alias("back"))
    weeks = (
        by_group(known, ["player_id", "back"])
        .agg(pl.len().alias("n_days"), (pl.col("swings_all").mean() * WEEK_DAYS).alias("swings"))
        .filter(pl.col("n_days") >= WEEK_AT_LEAST)
        .with_columns(oldest=pl.col("back").max().over("player_id"))
    )
    now = _span(weeks.filter(pl.col("back") < NOW_WEEKS), "now", NOW_AT_LEAST)
    newest_first = pl.col("oldest") - FIRST_WEEKS + 1
    first = weeks.filter(pl.col("back") >= newest_first, newest_first >= NOW_WEEKS + APART_WEEKS)
    ago = weeks.filter(pl.col("back").is_between(*YEAR_WEEKS))
    spans = {"first": first, "year": ago}
    found = [_against(now, _span(rows, "then", THEN_AT_LEAST), name, as_of) for name, rows in spans.items()]
    return pl.concat(found).sort("player_id", "against")


def _span(weeks: pl.DataFrame, name: str, at_least: int) -> pl.DataFrame:
    swings = pl.col("swings")
    return (
        by_group(weeks, ["player_id"])
        .agg(
            swings.mean().alias(f"{name}_level"),
            swings.var().fill_null(0.0).alias(f"var_{name}"),
            pl.len().cast(pl.Int64).alias(f"n_{name}"),
            pl.col("back").min().alias(f"back_{name}"),
        )
        .filter(pl.col(f"n_{name}") >= at_least, pl.col(f"{name}_level") > 0)
    )


def _against(now: pl.DataFrame, then: pl.DataFrame, against: str, as_of: dt.date) -> pl.DataFrame:
    both = now.join(then, on="player_id")
    freedom = pl.col("n_now") + pl.col("n_then") - 2
    squares = [(pl.col(f"n_{one}") - 1) * pl.col(f"var_{one}") / pl.col(f"{one}_level") ** 2 for one in ("now", "then")]
    variance = RESEMBLANCE * (squares[0] + squares[1]) / freedom * (1.0 / pl.col("n_now") + 1.0 / pl.col("n_then"))
    reach = student_reach(both.select(freedom.alias("freedom"))["freedom"])
    measured = both.with_columns(
        (100.0 * (pl.col("now_level") / pl.col("then_level")).log()).alias("change"),
        (100.0 * variance.sqrt() * reach).alias("half"),
    )
    return measured.select(
        "player_id",
        pl.lit("").alias("club_group"),
        pl.lit("week_swings").alias("metric"),
        pl.lit(against).alias("against"),
        (pl.lit(as_of) - pl.duration(days=1) * (pl.col("back_then") * WEEK_DAYS)).alias("then_on"),
        "then_level",
        pl.lit(as_of).alias("now_on"),
        "now_level",
        "change",
        (pl.col("change") - pl.col("half")).alias("change_low"),
        (pl.col("change") + pl.col("half")).alias("change_high"),
        "n_then",
        "n_now",
        pl.lit(WORTHWHILE).alias("worthwhile"),
        ((pl.col("change").abs() > pl.col("half")) & (pl.col("change").abs() >= WORTHWHILE)).alias("lasts"),
    )
