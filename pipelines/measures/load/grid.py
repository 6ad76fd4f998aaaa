"""Players by days: the array behind every daily measure, in which what was not recorded is unknown and never zero."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Mapping

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]
Counts = NDArray[np.int64]


@dataclass(frozen=True)
class Readings:
    """Values that are known on some days only.

    Attributes
    ----------
    value : (players, days) array
        0 where unknown; never read it without ``known``.
    known : (players, days) array of bool
    """

    value: Floats
    known: Truths

    def __post_init__(self) -> None:
        if self.value.shape != self.known.shape or self.value.ndim != 2:
            raise ValueError("value and known must be two-dimensional and of the same shape")

    def where(self, condition: Truths) -> Readings:
        """The same readings, unknown where the condition does not hold."""
        known = self.known & condition
        return Readings(np.where(known, self.value, 0.0), known)

    def of(self, rows: Counts) -> Readings:
        """Those of some players."""
        return Readings(self.value[rows], self.known[rows])

    def since(self, column: int) -> Readings:
        """Those of the days from a column on."""
        return Readings(self.value[:, column:], self.known[:, column:])

    def with_rows(self, rows: Counts, other: Readings) -> Readings:
        """Others in place of those of some players."""
        value, known = self.value.copy(), self.known.copy()
        value[rows], known[rows] = other.value, other.known
        return Readings(value, known)


def readings(value: Floats, known: Truths) -> Readings:
    """Readings with every unknown value set to 0, so that sums may run over all days."""
    return Readings(np.where(known, value, 0.0), known)


@dataclass(frozen=True)
class DayGrid:
    """Players in rows, consecutive local days in columns.

    Attributes
    ----------
    players : tuple of str
        Sorted, each once.
    first_on, last_on : datetime.date
        Both belong to the grid.
    """

    players: tuple[str, ...]
    first_on: date
    last_on: date

    @property
    def n_days(self) -> int:
        """Days of the grid, at least 1."""
        return (self.last_on - self.first_on).days + 1

    @property
    def shape(self) -> tuple[int, int]:
        """Players by days."""
        return len(self.players), self.n_days

    @cached_property
    def _row(self) -> pl.DataFrame:
        return pl.DataFrame(
            {"player_id": self.players, "row": range(len(self.players))}, schema={"player_id": pl.String, "row": pl.Int64}
        )

    def day(self, column: int) -> date:
        """The day of a column."""
        return self.first_on + timedelta(days=column)

    def since(self, column: int) -> DayGrid:
        """The grid from a column on."""
        return DayGrid(self.players, self.day(column), self.last_on)

    def places(self, rows: pl.DataFrame) -> tuple[Counts, Counts, Truths]:
        """Row and column of each row of a frame with player_id and on_date, and whether it lies in the grid."""
        located = rows.select("player_id", "on_date").join(self._row, on="player_id", how="left", maintain_order="left")
        column = (
            (located["on_date"].cast(pl.Int32) - (self.first_on - date(1970, 1, 1)).days)
            .fill_null(-1)
            .to_numpy()
            .astype(np.int64)
        )
        row = located["row"].fill_null(-1).to_numpy().astype(np.int64)
        return row, column, (row >= 0) & (column >= 0) & (column < self.n_days)

    def spread(self, rows: pl.DataFrame, names: tuple[str, ...]) -> dict[str, Readings]:
        """Columns of a frame (player_id, on_date, ...) as readings; a null, or no row, is unknown.

        The frame has at most one row for a player and day.
        """
        places = self.places(rows)
        return {name: self.at_places(places, rows[name]) for name in names}

    def at_places(self, places: tuple[Counts, Counts, Truths], values: pl.Series) -> Readings:
        """Values of rows whose :meth:`places` are given, as readings; a null, or no row, is unknown."""
        row, column, inside = places
        cell = values.cast(pl.Float64)
        known_cell = cell.is_not_null().to_numpy() & inside
        value, known = np.zeros(self.shape), np.zeros(self.shape, dtype=np.bool_)
        value[row[known_cell], column[known_cell]] = cell.fill_null(0.0).to_numpy()[known_cell]
        known[row[known_cell], column[known_cell]] = True
        return Readings(value, known)

    def frame(self, columns: Mapping[str, Readings | Truths], keep: Truths | None = None) -> pl.DataFrame:
        """A long frame, one row for each cell that is kept (all when ``keep`` is None): unknown becomes null.

        Sorted by player and day. Arrays of bool become truths.
        """
        kept = np.ones(self.shape, dtype=np.bool_) if keep is None else keep
        row, column = np.nonzero(kept)
        days = pl.Series("on_date", column.astype(np.int32) + (self.first_on - date(1970, 1, 1)).days, dtype=pl.Int32).cast(
            pl.Date
        )
        players = pl.Series("player_id", self.players, dtype=pl.String)
        series = [players.gather(row) if len(self.players) else players, days]
        series += [_series(name, cells, kept) for name, cells in columns.items()]
        return pl.DataFrame(series)


def _series(name: str, cells: Readings | Truths, kept: Truths) -> pl.Series:
    if not isinstance(cells, Readings):
        return pl.Series(name, cells[kept])
    value = pl.Series(name, cells.value[kept])
    return value.zip_with(pl.Series(cells.known[kept], dtype=pl.Boolean), pl.Series([None], dtype=value.dtype))


def day_grid(players: pl.Series, first_on: date, last_on: date) -> DayGrid:
    """The grid of these players from the first to the last day.

    Raises
    ------
    ValueError
        When the last day lies before the first.
    """
    if last_on < first_on:
        raise ValueError(f"the last day {last_on} lies before the first {first_on}")
    return DayGrid(tuple(sorted(players.unique().to_list())), first_on, last_on)


def days_marked(rows: pl.DataFrame, grid: DayGrid) -> Truths:
    """Cells of the grid for which a frame (player_id, on_date) has a row, shape (players, days)."""
    row, column, inside = grid.places(rows)
    marked = np.zeros(grid.shape, dtype=np.bool_)
    marked[row[inside], column[inside]] = True
    return marked
