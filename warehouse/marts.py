"""The only door through which pages, exports and listings read: marts as typed frames, for one audience at a time.

A mart names its readers in its contract. ``Marts(con, "coach")`` refuses a mart that the coach may not read, so a page
cannot show by accident what its reader must not see.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any, Literal, TypeVar, cast

import polars as pl
from duckdb import DuckDBPyConnection as Connection

from schemas.errors import RenderError
from schemas.marts import marts
from warehouse.apart import Apart, ColumnsOfPlayer, ListedOfPlayer, OfPlayer, PartsOfPlayer, parted
from warehouse.mart_cache import READ_APART, MartCache, mart_of, narrowed_names, part_name

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterator, Sequence
    from datetime import date

    from schemas.tables import Table
    from warehouse.apart import Chosen, Columns, Parts

__all__ = ["Audience", "Connection", "MartCache", "Marts", "NotReadError", "PlayerMarts", "narrowed_names"]

T = TypeVar("T")
Row = dict[str, Any]
Audience = Literal["coach", "physio", "data", "player"]


def _contract(name: str, audience: str) -> Table:
    known = marts()
    if name not in known:
        raise RenderError(f"There is no mart called {name}.", f"Use one of: {', '.join(sorted(known))}.")
    if audience not in known[name].readers:
        raise RenderError(f"The mart {name} is not for the {audience}'s pages.", "Read a mart that names this audience.")
    return known[name]


@cache
def _no_rows(mart: str) -> pl.DataFrame:
    return pl.DataFrame(schema=marts()[mart].polars_schema())


class NotReadError(LookupError):
    """Rows of a mart are asked for that were not read for this player."""


@dataclass
class PlayerMarts:
    """The rows of one player, and of nobody else, as one reader sees them.

    Attributes
    ----------
    player_id : str
    withheld : frozenset of str
        Marts whose rows were not read: asking for them raises :class:`NotReadError`.
    narrowed : frozenset of str
        Parts of marts of which no other rows were read, by their names: asking for others raises it too.
    """

    player_id: str
    _rows: dict[str, pl.DataFrame]
    _audience: str
    withheld: frozenset[str] = frozenset()
    narrowed: frozenset[str] = frozenset()
    _listed: dict[str, list[Row]] = field(default_factory=dict)
    _parts: dict[tuple[str, tuple[str, ...]], Parts] = field(default_factory=dict)
    _columns: dict[tuple[str, Chosen], Columns] = field(default_factory=dict)
    _made: dict[tuple[Hashable, ...], tuple[Any, set[str]]] = field(default_factory=dict)
    _noted: set[str] = field(default_factory=set)

    def read_by(self, audience: Audience) -> PlayerMarts:
        """The same player for another reader: what one of them had made :meth:`once` is not made again."""
        return replace(self, _audience=audience, _noted=set())

    @contextmanager
    def reading(self) -> Iterator[set[str]]:
        """The names, as in :meth:`Marts.numbers`, of all rows that are read within the block."""
        outer, self._noted = self._noted, set()
        own = self._noted
        try:
            yield own
        finally:
            outer |= own
            self._noted = outer

    def once(self, key: tuple[Hashable, ...], make: Callable[[], T]) -> T:
        """What several sections or readers need, made by the first that asks; the key names what it depends on beside the rows.

        Raises
        ------
        RenderError
            When it was made of a mart that this reader may not read.
        """
        if key not in self._made:
            with self.reading() as read:
                self._made[key] = make(), read
        found, read = self._made[key]
        for name in read:
            _contract(name.partition("|")[0], self._audience)
        self._noted |= read
        return cast("T", found)

    def part(self, mart: str, **values: object) -> pl.DataFrame:
        """The player's rows with these values in these columns; quick when asked often."""
        columns = tuple(sorted(values))
        rows = self._of(mart, self._note(mart, columns, values))
        if rows.is_empty():
            return rows
        try:
            parts = self._parts[mart, columns]
        except KeyError:
            parts = self._parts.setdefault((mart, columns), parted(rows, columns))
        found = parts.get(tuple(values[name] for name in columns))
        return rows.clear() if found is None else found

    def rows(self, mart: str) -> pl.DataFrame:
        """The player's rows of a mart, in the order of its grain."""
        self._noted.add(mart)
        return self._of(mart, mart)

    def columns(self, mart: str, chosen: Chosen) -> Columns:
        """Columns of the player's rows as lists; ``chosen`` says which, row by row. They are shared: change none."""
        self._check(mart, mart)
        self._noted.add(mart)
        try:
            return self._columns[mart, chosen]
        except KeyError:
            return self._columns.setdefault((mart, chosen), chosen(self._of(mart, mart)).to_dict(as_series=False))

    def listed(self, mart: str, **values: object) -> list[Row]:
        """The same one by one, those with these values; few are gone through sooner than asked. They are shared: change none."""
        name = self._note(mart, tuple(sorted(values)), values)
        self._check(mart, name)
        try:
            listed = self._listed[mart]
        except KeyError:
            listed = self._listed.setdefault(mart, self._of(mart, name).to_dicts())
        return [row for row in listed if all(row[name] == value for name, value in values.items())] if values else listed

    def _note(self, mart: str, columns: tuple[str, ...], values: dict[str, object]) -> str:
        """Note that these rows are read; by which name they are known."""
        is_apart = columns in READ_APART.get(mart, ())
        name = part_name(mart, columns, values) if is_apart else mart
        self._noted.add(name)
        return name

    def _check(self, mart: str, name: str) -> None:
        """That this reader may read these rows, and that they were read."""
        _contract(mart, self._audience)
        if mart in self.withheld or (name not in self.narrowed and any(mart_of(one) == mart for one in self.narrowed)):
            raise NotReadError(name)

    def _of(self, mart: str, name: str) -> pl.DataFrame:
        self._check(mart, name)
        try:
            return self._rows[mart]
        except KeyError:
            return self._rows.setdefault(mart, _no_rows(mart))


@dataclass
class Marts:
    """The marts that one audience may read.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    audience : {"coach", "physio", "data", "player"}
    cache : MartCache, optional
        Shared between audiences; made anew when it is not given.
    players : frozenset of str, optional
        Only rows about these players are read: whatever is about nobody, or about many, is then empty. None: all rows.
    group : str
        The group that these players are: what is measured of it as a whole is then read in place of what is of everybody.
    """

    con: Connection
    audience: Audience
    cache: MartCache | None = None
    players: frozenset[str] | None = None
    group: str = ""
    _told: dict[str, dict[str, str]] = field(default_factory=dict)

    def _kept(self) -> MartCache:
        if self.cache is None:
            self.cache = MartCache(self.con)
        return self.cache

    def names(self) -> tuple[str, ...]:
        """Marts that this audience may read."""
        return tuple(name for name, mart in sorted(marts().items()) if self.audience in mart.readers)

    def rows(self, mart: str) -> pl.DataFrame:
        """All rows of a mart, in the order of its grain.

        Raises
        ------
        RenderError
            When there is no such mart, or this audience may not read it.
        """
        contract = _contract(mart, self.audience)
        rows = self._kept().rows(contract)
        return rows if self.players is None else self._theirs(contract, rows, self.players)

    def part(self, mart: str, *, since: date | None = None, **values: object) -> pl.DataFrame:
        """The rows of a mart with these values in these columns: of a large one only what is wanted is read.

        ``since``: only those of that day and later ones.

        Raises
        ------
        RenderError
            As :meth:`rows`.
        """
        contract = _contract(mart, self.audience)
        rows = self._kept().part(contract, tuple(sorted(values.items())), since)
        return rows if self.players is None else self._theirs(contract, rows, self.players)

    def _theirs(self, mart: Table, rows: pl.DataFrame, players: frozenset[str]) -> pl.DataFrame:
        """The rows about these players, by their id or that of their trials, and about the group that they are."""
        if mart.grain[0] == "group_name":
            of_group = pl.col("group_name") == self.group if self.group else pl.lit(value=False)
            own = pl.col("player_id").is_in(sorted(players)) if "player_id" in mart.names else pl.lit(value=False)
            return rows.filter(of_group | own).with_columns(group_name=pl.lit(""))
        if "player_id" in mart.names:
            return rows.filter(pl.col("player_id").is_in(sorted(players)))
        if "trial_id" in mart.names:
            return rows.filter(pl.col("trial_id").is_in(self.rows("mart_trial_result")["trial_id"].implode()))
        return rows.clear()

    def _of_players(self) -> tuple[Table, ...]:
        """Marts by player. ``mart_squad...`` compares players or days with today, so it is for pages about the squad only."""
        names = (name for name in self.names() if not name.startswith("mart_squad"))
        return tuple(marts()[name] for name in names if "player_id" in marts()[name].names)

    def number(self, player_id: str, name: str) -> str | None:
        """What changes when some rows of a player do, those of a mart or of a part of it; None: none that this audience may read.

        See :meth:`MartCache.numbers`.
        """
        if self.players is not None and player_id not in self.players:
            return None
        if name not in self._told:
            mart = mart_of(name)
            self._told[name] = self._kept().numbers(mart).get(name, {}) if mart in self._names_of_players else {}
        return self._told[name].get(player_id)

    @cached_property
    def _names_of_players(self) -> frozenset[str]:
        return frozenset(mart.name for mart in self._of_players())

    def rows_of(self, player_ids: list[str], only: frozenset[str] | None = None) -> dict[str, pl.DataFrame]:
        """The rows of these players, by mart; ``only``: of these marts."""
        player_ids = [one for one in player_ids if self.players is None or one in self.players]
        return self._kept().rows_of(sorted(self.names_of_players(only)), player_ids)

    def names_of_players(self, only: frozenset[str] | None = None) -> frozenset[str]:
        """Marts by player that this audience may read; ``only``: of these, or of these parts of them."""
        names = self._names_of_players
        return names if only is None else frozenset(name for name in only if mart_of(name) in names)

    def by_player(self, player_ids: list[str]) -> dict[str, PlayerMarts]:
        """The rows of each of these players."""
        mine = [one for one in player_ids if self.players is None or one in self.players]
        return players_apart(self.rows_of(mine), mine, self.audience)


def members_of(marts: Marts, groups: Sequence[str]) -> frozenset[str]:
    """Ids of the players who are in one of these groups."""
    rows = marts.rows("mart_player_group")
    return frozenset(rows.filter(pl.col("group_name").is_in(list(groups)))["player_id"])


def players_apart(
    rows: dict[str, pl.DataFrame],
    player_ids: list[str],
    audience: Audience,
    withheld: frozenset[str] = frozenset(),
    narrowed: frozenset[str] = frozenset(),
) -> dict[str, PlayerMarts]:
    """Rows by mart, taken apart by player; ``withheld``, ``narrowed``: what was not read, see :class:`PlayerMarts`."""
    apart = Apart(rows)

    def of(one: str) -> PlayerMarts:
        return PlayerMarts(
            one,
            OfPlayer(one, apart),
            audience,
            withheld,
            narrowed,
            _listed=ListedOfPlayer(one, apart),
            _parts=PartsOfPlayer(one, apart),
            _columns=ColumnsOfPlayer(one, apart),
        )

    return {one: of(one) for one in player_ids}
