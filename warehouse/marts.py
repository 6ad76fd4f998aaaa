"""The only door through which pages, exports and listings read: marts as typed frames, for one audience at a time.

A mart names its readers in its contract. ``Marts(con, "coach")`` refuses a mart that the coach may not read, so a page
cannot show by accident what its reader must not see.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, TypeVar, cast

import polars as pl
from duckdb import DuckDBPyConnection as Connection

from schemas.errors import RenderError
from schemas.marts import marts
from warehouse.apart import NUMBER, Apart, OfPlayer, PartsOfPlayer, numbered_rows, parted
from warehouse.connection import frame

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence

    from schemas.tables import Table
    from warehouse.apart import Parts

__all__ = ["Audience", "Connection", "Marts", "NotReadError", "PlayerMarts"]

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


def _part_name(mart: str, columns: Sequence[str], values: Mapping[str, object]) -> str:
    """What a part of a mart is known by: the mart's name, and each column with its value."""
    return "|".join([mart, *(f"{name}={str(values[name]).lower()}" for name in columns)])


def _select(mart: Table, where: str = "") -> str:
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


READ_AS_THEY_ARE: frozenset[str] = frozenset({"mart_physio_body_day", "mart_physio_body_week", "mart_session_club", "mart_trend"})
"""Large marts that are a plain choice from a table: of these only the rows of the players who are asked for are read."""


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

    def listed(self, mart: str, **values: object) -> list[Row]:
        """The same one by one, those with these values; few are gone through sooner than asked. They are shared: change none."""
        rows = self._of(mart, self._note(mart, tuple(sorted(values)), values))
        if mart not in self._listed:
            self._listed[mart] = rows.to_dicts()
        listed = self._listed[mart]
        return [row for row in listed if all(row[name] == value for name, value in values.items())] if values else listed

    def _note(self, mart: str, columns: tuple[str, ...], values: dict[str, object]) -> str:
        """Note that these rows are read; by which name they are known."""
        is_apart = columns in READ_APART.get(mart, ())
        name = _part_name(mart, columns, values) if is_apart else mart
        self._noted.add(name)
        return name

    def _of(self, mart: str, name: str) -> pl.DataFrame:
        contract = _contract(mart, self._audience)
        if mart in self.withheld or (name not in self.narrowed and any(_mart_of(one) == mart for one in self.narrowed)):
            raise NotReadError(name)
        try:
            return self._rows[mart]
        except KeyError:
            return self._rows.setdefault(mart, _no_rows(contract.name))


@dataclass
class MartCache:
    """Each mart computed once, for all audiences, and kept until it is cleared.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    """

    con: Connection
    _frames: dict[str, pl.DataFrame] = field(default_factory=dict)
    _chosen: dict[tuple[str, tuple[tuple[str, Any], ...]], pl.DataFrame] = field(default_factory=dict)
    _numbers: dict[str, dict[str, dict[str, str]]] = field(default_factory=dict)

    def rows(self, mart: Table) -> pl.DataFrame:
        """All rows in the order of the grain."""
        if mart.name not in self._frames:
            self._frames[mart.name] = frame(self.con, _select(mart))
        return self._frames[mart.name]

    def part(self, mart: Table, values: tuple[tuple[str, Any], ...]) -> pl.DataFrame:
        """The rows with these values in these columns, in the order of the grain."""
        if mart.name not in READ_AS_THEY_ARE:
            return self.rows(mart).filter(**dict(values))
        if (mart.name, values) not in self._chosen:
            where = " and ".join(f'"{name}" = ?' for name, _ in values)
            rows = frame(self.con, _select(mart, f"where {where}"), [value for _, value in values])
            self._chosen[mart.name, values] = rows
        return self._chosen[mart.name, values]

    def numbers(self, mart: str) -> dict[str, dict[str, str]]:
        """Player id to what was read (the mart, or a part of it) to a number that changes when any of these rows changes.

        A number is the sum of the rows' own numbers, so that of the whole is the sum of those of its parts.
        """
        if mart not in self._numbers:
            sets = ((), *READ_APART.get(mart, ()))
            columns = sorted({name for one in sets for name in one})
            sums: dict[str, dict[str, int]] = {}
            for player_id, number, *values in self._sums(mart, columns):
                own, value_of = sums.setdefault(player_id, {}), dict(zip(columns, values, strict=True))
                for one in sets:
                    name = _part_name(mart, one, value_of)
                    own[name] = own.get(name, 0) + number
            self._numbers[mart] = {player_id: {name: str(n) for name, n in own.items()} for player_id, own in sums.items()}
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
            parts.setdefault(_mart_of(name), []).append(name)
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
        return frame(self.con, _select(marts()[mart], where), given)

    def clear(self) -> None:
        """Drop what was kept."""
        self._frames.clear()
        self._chosen.clear()
        self._numbers.clear()


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

    def part(self, mart: str, **values: object) -> pl.DataFrame:
        """The rows of a mart with these values in these columns: of a large one only what is wanted is read.

        Raises
        ------
        RenderError
            As :meth:`rows`.
        """
        contract = _contract(mart, self.audience)
        rows = self._kept().part(contract, tuple(sorted(values.items())))
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

    def numbers(self) -> dict[str, dict[str, str]]:
        """Player id to what this audience may read of the player, each with a number that changes when its rows do."""
        found: dict[str, dict[str, str]] = {}
        for mart in self._of_players():
            for player_id, own in self._kept().numbers(mart.name).items():
                if self.players is None or player_id in self.players:
                    found.setdefault(player_id, {}).update(own)
        return found

    def rows_of(self, player_ids: list[str], only: frozenset[str] | None = None) -> dict[str, pl.DataFrame]:
        """The rows of these players, by mart; ``only``: of these marts."""
        player_ids = [one for one in player_ids if self.players is None or one in self.players]
        return self._kept().rows_of(sorted(self.names_of_players(only)), player_ids)

    def names_of_players(self, only: frozenset[str] | None = None) -> frozenset[str]:
        """Marts by player that this audience may read; ``only``: of these, or of these parts of them."""
        names = frozenset(mart.name for mart in self._of_players())
        return names if only is None else frozenset(name for name in only if _mart_of(name) in names)

    def by_player(self, player_ids: list[str]) -> dict[str, PlayerMarts]:
        """The rows of each of these players."""
        mine = [one for one in player_ids if self.players is None or one in self.players]
        return players_apart(self.rows_of(mine), mine, self.audience)


def members_of(marts: Marts, groups: Sequence[str]) -> frozenset[str]:
    """Ids of the players who are in one of these groups."""
    rows = marts.rows("mart_player_group")
    return frozenset(rows.filter(pl.col("group_name").is_in(list(groups)))["player_id"])


def _mart_of(name: str) -> str:
    """The mart of a name of rows, which may name a part of it."""
    return name.partition("|")[0]


def narrowed_names(names: Iterable[str]) -> frozenset[str]:
    """Names of rows to read: of marts that are narrowed the parts, where no more is wanted; of others the whole."""
    told = set(names)
    whole = {_mart_of(name) for name in told if "|" not in name or _mart_of(name) not in NARROWED}
    return frozenset(whole | {name for name in told if _mart_of(name) not in whole})


def players_apart(
    rows: dict[str, pl.DataFrame],
    player_ids: list[str],
    audience: Audience,
    withheld: frozenset[str] = frozenset(),
    narrowed: frozenset[str] = frozenset(),
) -> dict[str, PlayerMarts]:
    """Rows by mart, taken apart by player; ``withheld``, ``narrowed``: what was not read, see :class:`PlayerMarts`."""
    apart = Apart(rows)
    return {
        one: PlayerMarts(one, OfPlayer(one, apart), audience, withheld, narrowed, _parts=PartsOfPlayer(one, apart))
        for one in player_ids
    }
