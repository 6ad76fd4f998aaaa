"""What lasts of strokes: the drives of the last three months against those of a year ago, and against the first three months."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.estimates import Estimates, inputs_digest
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
    estimates: Estimates | None = None,
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
    estimates : Estimates, optional
        Comparisons with first months that are known already.

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
    ago = newest.filter((_month("month_on") - _month("reference_to_on")).is_between(*REFERENCE_MONTHS))
    known = estimates or Estimates()
    by_course = [
        _first(rows, patterns, course, known)
        for course in courses
        if (rows := newest.filter(pl.col("course") == course.name)).height
    ]
    first = pl.concat(by_course) if by_course else newest.clear()
    return pl.concat([_rows(first, "first"), _rows(ago, "year")]).sort("player_id", "against")


def _month(name: str) -> pl.Expr:
    return pl.col(name).dt.year() * 12 + pl.col(name).dt.month().cast(pl.Int32) - 1


def _first(newest: pl.DataFrame, patterns: pl.DataFrame, course: Course, estimates: Estimates) -> pl.DataFrame:
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
    last = with_neighbours(beside).join(
        newest.select("player_id", "month_on"), on=["player_id", "month_on"], how="semi", maintain_order="left"
    )
    until = early.group_by("player_id").agg(pl.col("month_on").max().alias("reference_to_on"))
    return _compared(last, course, dict(newest.schema), estimates).join(until, on="player_id")


_CHANGE = ("change", "change_low", "change_high", "reference_n", "recent_n")


def _compared(last: pl.DataFrame, course: Course, schema: dict[str, pl.DataType], estimates: Estimates) -> pl.DataFrame:
    """player_id, month_on and the change of patterns beside their neighbours: what is said of one does not depend on others."""
    beside = inputs_digest("lasting strokes", last.clear(), course)
    keyed = last.with_columns(pl.Series("key", [f"{beside}{number}" for number in last.hash_rows()], dtype=pl.String))
    found = {key: estimates.recalled(key) for key in keyed["key"]}
    new = keyed.filter(pl.col("key").is_in([key for key, change in found.items() if change is None]))
    standards = dict(new.select("player_id", "standard").iter_rows())
    computed = strokes_by_month(new.drop("key"), standards, [course], schema)
    for key, *change in new.select("player_id", "key").join(computed, on="player_id").select("key", *_CHANGE).iter_rows():
        estimates.keep(key, change, len(estimates.asked))
        found[key] = change
    kinds = {name: schema[name] for name in _CHANGE}
    changes = pl.DataFrame([found[key] for key in keyed["key"]], schema=kinds, orient="row")
    return pl.concat([last.select("player_id", "month_on"), changes], how="horizontal")


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
