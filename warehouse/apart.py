"""Rows of many players taken apart: by player, and by the values of columns."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    Chosen = Callable[[pl.DataFrame], pl.DataFrame]
    """Some columns of each row, told by nothing but this row."""

    Columns = dict[str, list[Any]]
    """Values by column."""

Row = dict[str, Any]

MOST_LISTED = 5000
"""Rows of some players that are listed at once: they are few of each, and most of the players are asked for them."""

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
        self._columns: dict[tuple[str, Chosen], dict[str, Columns]] = {}
        self._listed: dict[str, dict[str, list[Row]] | None] = {}

    def columns(self, mart: str, chosen: Chosen) -> dict[str, Columns]:
        """Columns of the rows as lists, by player: made for all of them at once, for a frame costs more than its few values.

        Whoever asks takes a player's away, so that they go with the player.
        """
        if (mart, chosen) not in self._columns:
            rows = self._rows[mart]
            lists = chosen(rows).to_dict(as_series=False)
            found: dict[str, Columns] = {}
            after = 0
            for player_id, same in groupby(rows["player_id"].to_list()):
                first, after = after, after + len(list(same))
                own = {name: values[first:after] for name, values in lists.items()}
                found[player_id] = _joined(found[player_id], own) if player_id in found else own
            self._columns[mart, chosen] = found
        return self._columns[mart, chosen]

    def listed(self, mart: str) -> dict[str, list[Row]] | None:
        """The same of the rows one by one; None: there are so many that each player's are better made by themselves."""
        if mart not in self._listed:
            rows = self._rows[mart]
            found: dict[str, list[Row]] | None = None
            if rows.height <= MOST_LISTED:
                found = {}
                for row in rows.iter_rows(named=True):
                    found.setdefault(row["player_id"], []).append(row)
            self._listed[mart] = found
        return self._listed[mart]

    def __missing__(self, key: tuple[str, tuple[str, ...]]) -> dict[str, Parts]:
        mart, columns = key
        found: dict[str, Parts] = {}
        for (player_id, *values), part in parted(self._rows[mart], ("player_id", *columns)).items():
            found.setdefault(str(player_id), {})[tuple(values)] = part
        return self.setdefault(key, found)


def _joined(columns: Columns, later: Columns) -> Columns:
    return {name: [*values, *later[name]] for name, values in columns.items()}


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


class ColumnsOfPlayer(dict[tuple[str, "Chosen"], "Columns"]):
    """Columns of the rows of one of them as lists."""

    def __init__(self, player_id: str, apart: Apart) -> None:
        super().__init__()
        self._player_id, self._apart = player_id, apart

    def __missing__(self, key: tuple[str, Chosen]) -> Columns:
        return self.setdefault(key, self._apart.columns(*key).pop(self._player_id))


class ListedOfPlayer(dict[str, list[Row]]):
    """The rows of one of them by mart, one by one; of marts with many rows, and of those without any, nothing."""

    def __init__(self, player_id: str, apart: Apart) -> None:
        super().__init__()
        self._player_id, self._apart = player_id, apart

    def __missing__(self, mart: str) -> list[Row]:
        listed = self._apart.listed(mart)
        if listed is None:
            raise KeyError(mart)
        return self.setdefault(mart, listed.pop(self._player_id))
