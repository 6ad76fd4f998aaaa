"""Rows of many players taken apart: by player, and by the values of columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Sequence

Parts = dict[tuple[object, ...], pl.DataFrame]
"""Rows by the values of some columns."""


def parted(rows: pl.DataFrame, columns: Sequence[str]) -> Parts:
    """Rows by the values of some columns: slices where equal ones stand together, which costs no copy."""
    if rows.is_empty():
        return {}
    at = pl.col("place of row")
    places = (
        rows.select(columns)
        .with_row_index(at.meta.output_name())
        .group_by(columns, maintain_order=True)
        .agg(at.first().alias("first of rows"), at.last().alias("last of rows"), pl.len().alias("n of rows"))
    )
    found: Parts = {}
    for *values, first, last, n in places.iter_rows():
        if last - first + 1 != n:
            return rows.partition_by(columns, as_dict=True, maintain_order=True)
        found[tuple(values)] = rows.slice(first, n)
    return found


NUMBER = "number of row"
"""Column of :func:`numbered_rows`."""


def numbered_rows(rows: pl.DataFrame, columns: Sequence[str]) -> pl.DataFrame:
    """The values of some columns of each row, and a number that tells the whole row, in any process the same."""
    coded = [name for name, kind in rows.schema.items() if isinstance(kind, pl.Categorical | pl.Enum)]  # by each process
    told = rows.with_columns(pl.col(coded).cast(pl.String)) if coded else rows
    return rows.select(columns).with_columns(told.hash_rows().alias(NUMBER))


class Apart(dict[tuple[str, tuple[str, ...]], dict[str, Parts]]):
    """The rows of some players by mart and columns: of each player by the values of these, taken apart when first asked for."""

    def __init__(self, rows: dict[str, pl.DataFrame]) -> None:
        super().__init__()
        self._rows = rows

    def __missing__(self, key: tuple[str, tuple[str, ...]]) -> dict[str, Parts]:
        mart, columns = key
        found: dict[str, Parts] = {}
        for (player_id, *values), part in parted(self._rows[mart], ("player_id", *columns)).items():
            found.setdefault(str(player_id), {})[tuple(values)] = part
        return self.setdefault(key, found)


class OfPlayer(dict[str, pl.DataFrame]):
    """The rows of one of them by mart; a mart without any is missing."""

    def __init__(self, player_id: str, apart: Apart) -> None:
        super().__init__()
        self._player_id, self._apart = player_id, apart

    def __missing__(self, mart: str) -> pl.DataFrame:
        return self.setdefault(mart, self._apart[mart, ()][self._player_id][()])


class PartsOfPlayer(dict[tuple[str, tuple[str, ...]], Parts]):
    """The same by mart and columns."""

    def __init__(self, player_id: str, apart: Apart) -> None:
        super().__init__()
        self._player_id, self._apart = player_id, apart

    def __missing__(self, key: tuple[str, tuple[str, ...]]) -> Parts:
        return self.setdefault(key, self._apart[key][self._player_id])
