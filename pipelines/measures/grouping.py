"""Groups of rows whose sums do not depend on the rows of other groups."""

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
