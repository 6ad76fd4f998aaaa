"""A month between its neighbours: the last three months pooled, and the player's reference months before them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Sequence

RECENT_MONTHS = (0, 2)
REFERENCE_MONTHS = (6, 12)
"""Far enough back that a gain of this season is not its own reference, and within a year."""
SHORT_REFERENCE_MONTHS = (3, 5)
"""For a player who has not been here for half a year."""
_SPAN = REFERENCE_MONTHS[1] - REFERENCE_MONTHS[0]
"""Of a player who is back after a break, the months up to its beginning: as many as are taken of others."""


def with_recent(
    months: pl.DataFrame, keys: Sequence[str], levels: Sequence[str], weight: str, errors: Sequence[str] = ()
) -> pl.DataFrame:
    """Each month with the weighted mean of the levels over it and the two before, as ``recent_LEVEL`` and ``recent_n``.

    Parameters, result and notes as for :func:`with_reference`.
    """
    recent = pl.when(pl.col("back").is_between(*RECENT_MONTHS)).then(0)
    return _pooled(months, keys, levels, errors, weight, "recent_", recent)


def with_reference(
    months: pl.DataFrame, keys: Sequence[str], levels: Sequence[str], weight: str, errors: Sequence[str] = ()
) -> pl.DataFrame:
    """Each month with the weighted mean of the levels over the player's reference months.

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
    errors : sequence of str
        Standard errors of months, to be pooled to that of the weighted mean; null where there is none.

    Returns
    -------
    polars.DataFrame
        The months, in their order, with ``reference_LEVEL`` for each level and error (null without a month), ``reference_n`` (sum
        of weights), ``reference_from_on`` and ``reference_to_on`` (first and last month used).

    Notes
    -----
    The months 6 to 12 months earlier; where there is none but older ones, the player is back after a break, and the last seven
    months before it; else those 3 to 5 months earlier. Only earlier months are used, so what is said of a month never changes
    with later data. Error of a mean: ``sqrt(sum (w e)**2) / sum w``, months being independent:
    a month that has just begun adds little to either. Checked: tests/unit/test_reference_months.py.
    """
    return _pooled(months, keys, levels, errors, weight, "reference_", _reference_rank())


def _pooled(
    months: pl.DataFrame,
    keys: Sequence[str],
    levels: Sequence[str],
    errors: Sequence[str],
    weight: str,
    prefix: str,
    rank: pl.Expr,
) -> pl.DataFrame:
    numbered = months.with_row_index("row")
    earlier = months.select(*keys, pl.col("month_on").alias("earlier_on"), *levels, *errors, weight)
    pairs = numbered.select("row", *keys, "month_on").join(earlier, on=list(keys)).with_columns(_months_back().alias("back"))
    ranked = pairs.with_columns(rank.alias("rank")).filter(pl.col("rank").is_not_null())
    within = ranked.filter(pl.col("rank") == pl.col("rank").min().over("row")).sort("row", "earlier_on")
    pooled = within.group_by("row", maintain_order=True).agg(
        *(_weighted(name, weight).alias(f"{prefix}{name}") for name in levels),
        *(_error_of_mean(name, weight).alias(f"{prefix}{name}") for name in errors),
        pl.col(weight).sum().cast(pl.Int64).alias(f"{prefix}n"),
        pl.col("earlier_on").min().alias(f"{prefix}from_on"),
        pl.col("earlier_on").max().alias(f"{prefix}to_on"),
    )
    return numbered.join(pooled, on="row", how="left", maintain_order="left").drop("row")


def _reference_rank() -> pl.Expr:
    """Which of the earlier months are taken, the lowest first: by how many months each lies back from one that is told."""
    back = pl.col("back")
    is_old = back > REFERENCE_MONTHS[1]
    before_break = is_old & (back <= back.filter(is_old).min().over("row") + _SPAN)
    usual = pl.when(back.is_between(*REFERENCE_MONTHS)).then(0).when(before_break).then(1)
    return usual.when(back.is_between(*SHORT_REFERENCE_MONTHS)).then(2)


def _months_back() -> pl.Expr:
    now, then = pl.col("month_on"), pl.col("earlier_on")
    return (now.dt.year() - then.dt.year()) * 12 + now.dt.month().cast(pl.Int32) - then.dt.month().cast(pl.Int32)


def _weighted(name: str, weight: str) -> pl.Expr:
    return _over_weights((pl.col(name) * pl.col(weight)).sum(), name, weight)


def _error_of_mean(name: str, weight: str) -> pl.Expr:
    return _over_weights(((pl.col(name) * pl.col(weight)) ** 2).sum().sqrt(), name, weight)


def _over_weights(summed: pl.Expr, name: str, weight: str) -> pl.Expr:
    """Over the weights of the months in which it is known; null where it is known in none."""
    total = pl.col(weight).filter(pl.col(name).is_not_null()).sum()
    return pl.when(total > 0).then(summed / total)
