"""Sums and quotients of rows that do not depend, to the last digit, on which other rows stand beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl
    from polars.dataframe.group_by import GroupBy


def by_group(rows: pl.DataFrame, keys: Sequence[str]) -> GroupBy:
    """The rows grouped, groups in the order of their keys, rows of a group in the order given.

    Groups that do not lie together are summed in parts, and where the parts are cut depends on the whole frame: the last digit
    of a mean would then change with the rows of somebody else.

    Parameters
    ----------
    rows : polars.DataFrame
    keys : sequence of str

    Returns
    -------
    GroupBy

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_grouping.py.
    """
    return rows.sort(keys, maintain_order=True).group_by(keys, maintain_order=True)


def divided(column: pl.Expr, by: float) -> pl.Expr:
    """A column divided by a number.

    polars divides a column of one row, and multiplies a longer one by the reciprocal: in one of seventeen the last digit would
    then tell whether a row was computed alone.

    Parameters
    ----------
    column : polars.Expr
    by : float

    Returns
    -------
    polars.Expr

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_grouping.py.
    """
    return column * (1.0 / by)
