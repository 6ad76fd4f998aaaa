"""Each mart computed once for all who read it: whole, or of large ones what is asked for; and numbers that tell rows."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

import polars as pl

from schemas.marts import marts
from warehouse.apart import NUMBER, numbered_rows
from warehouse.connection import frame

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from duckdb import DuckDBPyConnection as Connection

    from schemas.tables import Table

Values = tuple[tuple[str, Any], ...]
"""Columns with the values that are asked for."""


def part_name(mart: str, columns: Sequence[str], values: Mapping[str, object]) -> str:
    """What a part of a mart is known by: the mart's name, and each column with its value."""
    return "|".join([mart, *(f"{name}={str(values[name]).lower()}" for name in columns)])


def selected(mart: Table, where: str = "") -> str:
    """The query that reads a mart in the order of its grain."""
    columns = ", ".join(f'"{name}"' for name in mart.names)
    order = ", ".join(f'"{name}"' for name in mart.grain) or "all"
    return f'select {columns} from "{mart.name}" {where} order by {order}'


READ_APART: dict[str, tuple[tuple[str, ...], ...]] = {
    "mart_lasting": (("against", "club_group", "metric"), ("lasts",), ("lasts", "metric")),
    "mart_trend": (("club_group", "metric"),),
}
"""Marts of which some rows change every day, or few are wanted: what reads those with given values in one of these sets of
columns rests on them alone."""

NARROWED: frozenset[str] = frozenset({"mart_trend"})
"""Of these no other rows are read for somebody who is known to want only some."""


READ_AS_THEY_ARE: frozenset[str] = frozenset(
    {
        *("mart_load_club_week", "mart_load_day", "mart_pattern_month", "mart_physio_body_day", "mart_physio_body_week"),
        *("mart_session_club", "mart_tradeoff_line", "mart_transfer_month", "mart_trend"),
    }
)
"""Large marts that are a plain choice from a table: of these only the rows of the players who are asked for are read."""


def mart_of(name: str) -> str:
    """The mart of a name of rows, which may name a part of it."""
    return name.partition("|")[0]


def narrowed_names(names: Iterable[str]) -> frozenset[str]:
    """Names of rows to read: of marts that are narrowed the parts, where no more is wanted; of others the whole."""
    told = set(names)
    whole = {mart_of(name) for name in told if "|" not in name or mart_of(name) not in NARROWED}
    return frozenset(whole | {name for name in told if mart_of(name) not in whole})


@dataclass
class MartCache:
    """Each mart computed once, for all audiences, and kept until it is cleared.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    """

    con: Connection
    _frames: dict[str, pl.DataFrame] = field(default_factory=dict)
    _chosen: dict[tuple[str, Values, date | None], pl.DataFrame] = field(default_factory=dict)
    _numbers: dict[str, dict[str, dict[str, str]]] = field(default_factory=dict)

    def rows(self, mart: Table) -> pl.DataFrame:
        """All rows in the order of the grain."""
        if mart.name not in self._frames:
            self._frames[mart.name] = frame(self.con, selected(mart))
        return self._frames[mart.name]

    def part(self, mart: Table, values: Values, since: date | None = None) -> pl.DataFrame:
        """The rows with these values in these columns, in the order of the grain; ``since``: of that day and later ones."""
        if mart.name not in READ_AS_THEY_ARE:
            rows = self.rows(mart).filter(**dict(values))
            return rows if since is None else rows.filter(pl.col("on_date") >= since)
        if (mart.name, values, since) not in self._chosen:
            clauses = [*(f'"{name}" = ?' for name, _ in values), *(["on_date >= ?"] if since else [])]
            given = [*(value for _, value in values), *([since] if since else [])]
            self._chosen[mart.name, values, since] = frame(self.con, selected(mart, f"where {' and '.join(clauses)}"), given)
        return self._chosen[mart.name, values, since]

    def numbers(self, mart: str) -> dict[str, dict[str, str]]:
        """What was read (the mart, or a part of it) to player id to a number that changes when any of these rows changes.

        A number is the sum of the rows' own numbers, so that of the whole is the sum of those of its parts.
        """
        if mart not in self._numbers:
            sets = ((), *READ_APART.get(mart, ()))
            columns = sorted({name for one in sets for name in one})
            sums: dict[str, dict[str, int]] = {}
            names: dict[tuple[Any, ...], list[str]] = {}
            for player_id, number, *values in self._sums(mart, columns):
                told = tuple(values)
                if told not in names:
                    names[told] = [part_name(mart, one, dict(zip(columns, told, strict=True))) for one in sets]
                for name in names[told]:
                    own = sums.setdefault(name, {})
                    own[player_id] = own.get(player_id, 0) + number
            self._numbers[mart] = {name: {one: str(n) for one, n in own.items()} for name, own in sums.items()}
        return self._numbers[mart]

    def _sums(self, mart: str, columns: Sequence[str]) -> Iterable[tuple[Any, ...]]:
        """Player id, the sum of the rows' numbers, and the values of these columns."""
        if mart in READ_AS_THEY_ARE:
            apart = "".join(f', "{name}"' for name in columns)
            wanted = f'select player_id, sum(cast(hash(m) as hugeint)){apart} from "{mart}" m where player_id is not null'
            return self.con.execute(f"{wanted} group by all order by all").fetchall()
        rows = self.rows(marts()[mart])
        if rows.is_empty():
            return ()
        told = numbered_rows(rows, ("player_id", *columns))
        sums = told.group_by("player_id", *columns, maintain_order=True).agg(pl.col(NUMBER).sum())
        known = sums.filter(pl.col("player_id").is_not_null())
        return known.select("player_id", NUMBER, *columns).iter_rows()

    def rows_of(self, names: Iterable[str], player_ids: list[str]) -> dict[str, pl.DataFrame]:
        """The rows of these players in the marts of these names, of which some may name a part (:func:`narrowed_names`)."""
        parts: dict[str, list[str]] = {}
        for name in names:
            parts.setdefault(mart_of(name), []).append(name)
        return {mart: self._rows_of(mart, own, player_ids) for mart, own in parts.items()}

    def _rows_of(self, mart: str, names: list[str], player_ids: list[str]) -> pl.DataFrame:
        if mart not in READ_AS_THEY_ARE:
            rows = self.rows(marts()[mart])
            return rows if rows.is_empty() else rows.filter(pl.col("player_id").is_in(player_ids))
        where = "where player_id in (select unnest(?))"
        given: list[Any] = [player_ids]
        if mart not in names:
            told = ([one.partition("=") for one in name.split("|")[1:]] for name in names)
            values = [{column: value for column, _, value in part} for part in told]
            alike = (" and ".join(f'lower(cast("{column}" as varchar)) = ?' for column in own) for own in values)
            where += f" and ({' or '.join(alike)})"
            given += [value for own in values for value in own.values()]
        return frame(self.con, selected(marts()[mart], where), given)

    def clear(self) -> None:
        """Drop what was kept."""
        self._frames.clear()
        self._chosen.clear()
        self._numbers.clear()
