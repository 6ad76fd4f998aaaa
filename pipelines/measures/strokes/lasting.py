"""What lasts of strokes: the drives of the last three months against those of a year ago, and against the first three months."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.reference_months import RECENT_MONTHS, REFERENCE_MONTHS
from pipelines.measures.strokes.months import newest_at_home, strokes_by_month, with_neighbours
from pipelines.measures.worthwhile import STROKES

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from schemas.course import Course

NOW_DAYS = 62
"""The newest month with drives began at most so many days ago."""
FIRST_MONTHS = 3

_AS_IF_BACK = REFERENCE_MONTHS[0] + FIRST_MONTHS - 1


def lasting_strokes(
    months: pl.DataFrame,
    patterns: pl.DataFrame,
    homes: pl.DataFrame,
    courses: Sequence[Course],
    as_of: dt.date,
) -> pl.DataFrame:
    """Total change of the strokes a round that the drives cost.

    Parameters
    ----------
    months : polars.DataFrame
        Rows of ``stroke_month``.
    patterns : polars.DataFrame
        Driver patterns by month, from which they were made, with the standard of the player.
    homes : polars.DataFrame
        player_id, course: the one that counts for each player.
    courses : sequence of Course
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        Rows of ``lasting_difference`` for ``strokes``; ``n_then`` and ``n_now`` are drives; levels are null, since pooled months
        are compared as a whole.

    Notes
    -----
    A year ago: the change of the newest month, as every page has it, where its reference months lie 6 to 12 months back. The
    first normal: the same comparison with the first three months, where they are older than those.

    Source: own rule
    Checked: tests/unit/test_lasting_strokes.py
    """
    newest = newest_at_home(months.filter(pl.col("month_on") <= as_of), homes).filter(
        pl.col("month_on") > pl.lit(as_of) - pl.duration(days=NOW_DAYS)
    )
    ago = newest.filter(_month("month_on") - _month("reference_to_on") >= REFERENCE_MONTHS[0])
    by_course = [
        _first(rows, patterns, course) for course in courses if (rows := newest.filter(pl.col("course") == course.name)).height
    ]
    first = pl.concat(by_course) if by_course else newest.clear()
    return pl.concat([_rows(first, "first"), _rows(ago, "year")]).sort("player_id", "against")


def _month(name: str) -> pl.Expr:
    return pl.col(name).dt.year() * 12 + pl.col(name).dt.month().cast(pl.Int32) - 1


def _first(newest: pl.DataFrame, patterns: pl.DataFrame, course: Course) -> pl.DataFrame:
    """The change of the newest months against the first three, which are told as if they lay 6 to 8 months back."""
    newest_on = newest.select("player_id", pl.col("month_on").alias("newest_on"))
    own = patterns.filter(pl.col("carry_m").is_not_null()).join(newest_on, on="player_id", maintain_order="left")
    numbered = own.with_columns(month=_month("month_on"), newest=_month("newest_on")).with_columns(
        first=pl.col("month").min().over("player_id")
    )
    old = numbered.filter(pl.col("first") + FIRST_MONTHS - 1 < pl.col("newest") - REFERENCE_MONTHS[1])
    early = old.filter(pl.col("month") < pl.col("first") + FIRST_MONTHS)
    late = old.filter(pl.col("month").is_between(pl.col("newest") - RECENT_MONTHS[1], pl.col("newest")))
    as_if = pl.col("newest") - _AS_IF_BACK + pl.col("month") - pl.col("first")
    moved = early.with_columns(pl.date(as_if // 12, as_if % 12 + 1, 1).alias("month_on"))
    beside = pl.concat([moved, late]).select(patterns.columns).sort("player_id", "month_on")
    standards = dict(beside.select("player_id", "standard").unique().iter_rows())
    last = with_neighbours(beside).join(
        newest.select("player_id", "month_on"), on=["player_id", "month_on"], how="semi", maintain_order="left"
    )
    compared = strokes_by_month(last, standards, [course], dict(newest.schema))
    until = early.group_by("player_id").agg(pl.col("month_on").max().alias("until_on"))
    return compared.join(until, on="player_id").with_columns(pl.col("until_on").alias("reference_to_on")).select(newest.columns)


def _rows(months: pl.DataFrame, against: str) -> pl.DataFrame:
    clear = (pl.col("change_low") > 0) | (pl.col("change_high") < 0)
    level = pl.lit(None, dtype=pl.Float64)
    return months.filter(pl.col("change").is_not_null()).select(
        "player_id",
        pl.lit("driver").alias("club_group"),
        pl.lit("strokes").alias("metric"),
        pl.lit(against).alias("against"),
        pl.col("reference_to_on").alias("then_on"),
        level.alias("then_level"),
        pl.col("month_on").alias("now_on"),
        level.alias("now_level"),
        *("change", "change_low", "change_high"),
        pl.col("reference_n").cast(pl.Int64).alias("n_then"),
        pl.col("recent_n").cast(pl.Int64).alias("n_now"),
        pl.lit(STROKES).alias("worthwhile"),
        (clear & (pl.col("change").abs() >= STROKES)).alias("lasts"),
    )
