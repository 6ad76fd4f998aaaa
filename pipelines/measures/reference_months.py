"""The reference of a month: the same player's months 3 to 12 months earlier, pooled."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Sequence

NEAREST_MONTHS = 3
FARTHEST_MONTHS = 12
"""Far enough back that a gain of the last weeks is not its own reference, and within a year."""


def with_reference(months: pl.DataFrame, keys: Sequence[str], levels: Sequence[str], weight: str) -> pl.DataFrame:
    """Each month with the weighted mean of the levels over the player's months 3 to 12 months before it.

    Parameters
    ----------
    months : polars.DataFrame
        Columns keys, month_on (first day of a month), levels, weight; one row per keys and month.
    keys : sequence of str
        What is followed: player, club.
    levels : sequence of str
        Quantities to average; null where there is none.
    weight : str
        Column of weights, such as a number of shots.

    Returns
    -------
    polars.DataFrame
        The months, in their order, with ``reference_LEVEL`` for each level (null without a month), ``reference_n`` (sum of
        weights) and ``reference_from_on`` (first month used).

    Notes
    -----
    It uses earlier months only, so what is said of a month never changes with later data.
    Checked: tests/unit/test_reference_months.py.
    """
    numbered = months.with_row_index("row")
    earlier = months.select(*keys, pl.col("month_on").alias("earlier_on"), *levels, weight)
    pairs = numbered.select("row", *keys, "month_on").join(earlier, on=list(keys))
    back = (
        (pl.col("month_on").dt.year() - pl.col("earlier_on").dt.year()) * 12
        + pl.col("month_on").dt.month().cast(pl.Int32)
        - pl.col("earlier_on").dt.month().cast(pl.Int32)
    )
    within = pairs.filter(back.is_between(NEAREST_MONTHS, FARTHEST_MONTHS)).sort("row", "earlier_on")
    pooled = within.group_by("row", maintain_order=True).agg(
        *(_weighted(name, weight).alias(f"reference_{name}") for name in levels),
        pl.col(weight).sum().cast(pl.Int64).alias("reference_n"),
        pl.col("earlier_on").min().alias("reference_from_on"),
    )
    return numbered.join(pooled, on="row", how="left", maintain_order="left").drop("row")


def _weighted(name: str, weight: str) -> pl.Expr:
    known = pl.col(weight).filter(pl.col(name).is_not_null())
    total = known.sum()
    return pl.when(total > 0).then((pl.col(name) * pl.col(weight)).sum() / total)
