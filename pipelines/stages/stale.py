"""What of a stage is stale, and only that computed anew: the one place that decides it.

A stage whose rows can be computed apart for each unit (a player, a month of a player, a session) says what it reads, and how rows
come from that; its rows of a unit stand as long as everything that they were computed from is the same: the rows read of that
unit, the settings, the program and the libraries that compute. Of that a digest is kept for each unit, written together with
its rows. Where what is found of a month rests on the months before it, the digest of a month holds those of them. So whatever
happened meanwhile (late files, corrections, withdrawals, an erasure, other settings) is seen by what is read, and needs no path
of its own. What a stage takes from the whole squad is part of what it reads, joined to the unit's rows.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cache
from importlib import metadata
from typing import TYPE_CHECKING

import polars as pl

from pipelines.collector import give_back_memory
from pipelines.measures.estimates import Estimates
from pipelines.program import program_digest
from pipelines.stages.crew import Round, ahead
from warehouse.connection import insert_frame, transaction
from warehouse.units import (
    drop_other_rows,
    drop_other_states,
    drop_other_units,
    frame_digests,
    insert_digests,
    replace_estimates,
    replace_states,
    shots_of_a_player,
    stored_digests,
    stored_estimates,
    unit_rows,
    view_digests,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from datetime import date

    import duckdb

    from schemas.tables import Table

    Frames = Mapping[str, pl.DataFrame]

PLAYERS_AT_ONCE = 10
"""Players of a block: what is computed at a time, by one process, and how much memory it takes."""

BLOCKS_READ_TOGETHER = 10
"""Blocks whose rows are read at a time: each reading passes over all rows of a view."""

SHOTS_READ_TOGETHER = 350_000
"""Shots of those players, as a hundred mostly strike them in two years; of players who strike more fewer are read at a time."""

MONTH = ("player_id", "month_on")
"""Columns that name a month of a player."""

ASKED = "asked"
"""Name under which a stage whose months build on each other is told which of them it is asked for."""

_LIBRARIES = ("duckdb", "numpy", "polars", "scipy")


@dataclass(frozen=True)
class Read:
    """Rows that a stage reads of a view.

    Attributes
    ----------
    view : str
    order : tuple of str
        Columns that leave no two rows in doubt.
    until : (str, datetime.date) or None
        Column of days, and the last day that counts.
    told : bool
        Whether the rows are digested; False where another of the reads changes whenever these do.
    asked : bool
        Where months build on each other: whether of the months that are asked for alone.
    columns : tuple of str
        Of a wide view those that the measure uses, those of ``by`` among them: to order, hand over and hold the others takes most
        of the time and memory of reading. Without any all are read.
    """

    view: str
    order: tuple[str, ...]
    until: tuple[str, date] | None = None
    told: bool = True
    asked: bool = False
    columns: tuple[str, ...] = ()


@dataclass(frozen=True)
class Apart:
    """A stage that can be computed apart for each unit.

    Attributes
    ----------
    stage : str
    tables : tuple of Table
        What it writes; each has the columns of ``by``.
    reads : mapping of str to Read, polars.DataFrame or sequence of these
        By name; each has the columns of ``by``. Rows that are too many for one frame are given in parts.
    measure : callable
        A pure function at the top of a module: frames by the names of ``reads``, of some units, to frames by name of table. What
        it finds of a unit is the same whatever other units it is given.
    rests_on : text
        Settings, and whatever else the rows depend on that is not read.
    by : tuple of str
        Columns that name a unit, the player first.
    kinds : tuple of str
        Of the table of candidates, only those of these kinds are the stage's.
    days : mapping of str to str
        Where what is found of a player's month (``by``) rests on the player's months before it, and on none after it: by table,
        the column of days that tells the month of a row (of a view the one of its ``until``). A month is then stale whenever one
        before it is, and the measure gets all rows of the players, and the months that it is asked for by the name of
        :data:`ASKED`.
    blocks_at_once : int
        Blocks of players whose rows are read at a time: fewer where rows are wide.
    states : (str, Table), optional
        Where months rest on those before: what the measure keeps of closed months, to go on from, and the name by which it is
        read. A row stands as long as the player's month does that it names; the measure gives those that take its place.
    """

    stage: str
    tables: tuple[Table, ...]
    reads: Mapping[str, Read | pl.DataFrame | Sequence[pl.DataFrame]]
    measure: Callable[[Frames], Frames]
    rests_on: str
    by: tuple[str, ...] = ("player_id",)
    kinds: tuple[str, ...] = ()
    days: Mapping[str, str] = field(default_factory=dict)
    blocks_at_once: int = BLOCKS_READ_TOGETHER
    states: tuple[str, Table] | None = None


class Renewal:
    """The stale units of a stage, computed anew, some players at a time; first their rows, and those of units that are gone, go.

    Each block of players is one transaction: rows and digests come together, and what a crash leaves undone is stale again.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
    apart : Apart
    n_ahead : int
        Blocks that the crew is handed at once, to measure while this process does other work.

    Attributes
    ----------
    known : polars.DataFrame
        Digests of all units, see :func:`unit_digests`.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, apart: Apart, n_ahead: int = 0) -> None:
        self._con, self._apart = con, apart
        self.known = unit_digests(con, apart)
        blocks = self._stale_blocks()
        self._round = Round(apart.measure, _rows_of_blocks(con, apart, blocks), len(blocks), n_ahead)
        self._blocks = iter(blocks)

    def _stale_blocks(self) -> list[pl.DataFrame]:
        """What is to be computed, of which no row is left."""
        con, apart, known = self._con, self._apart, self.known
        stored = stored_digests(con, apart.stage)
        give_back_memory()
        stale = known.join(stored, on=["unit", "digest"], how="anti", maintain_order="left")
        if stale.is_empty() and 0 < known.height == stored.height:
            return []
        standing = known.join(stale, on="unit", how="anti", maintain_order="left")
        with transaction(con):
            drop_other_units(con, apart.stage, standing.select("unit"))
            for table in apart.tables:
                drop_other_rows(con, table.name, standing.select(apart.by), _kinds(apart, table), apart.days.get(table.name))
            if apart.states:
                drop_other_states(con, apart.states[1].name, known.select(*apart.by, "digest"))
        return player_blocks(stale)

    def go_on(self) -> None:
        """Write what need not be waited for."""
        for rows in self._round.found_by_now():
            self._write(rows)

    def end(self) -> pl.DataFrame:
        """Write all that is left; returns the digests of all units."""
        for rows in self._round.found():
            self._write(rows)
        return self.known

    def _write(self, rows: Frames) -> None:
        con, apart, block = self._con, self._apart, next(self._blocks)
        with transaction(con):
            for table in apart.tables:
                insert_frame(con, table.name, rows[table.name].select(table.names))
            if apart.states:
                replace_states(con, apart.states[1], _dated_states(rows[apart.states[1].name], self.known))
            insert_digests(con, apart.stage, block.select("unit", "digest"))


def renew(con: duckdb.DuckDBPyConnection, apart: Apart) -> pl.DataFrame:
    """Compute the stale units of a stage anew; returns the digests of all units."""
    return Renewal(con, apart).end()


def begin(con: duckdb.DuckDBPyConnection, apart: Apart, n_ahead: int) -> None:
    """Hand the first ``n_ahead`` blocks of a stage to the crew, before its step; what it reads must not change until then.

    Its rows are those that the step would have made by itself, written in the same order, only sooner.
    """
    begun = ahead()
    if begun is not None:
        begun[apart.stage] = Renewal(con, apart, n_ahead)


def end(con: duckdb.DuckDBPyConnection, stage: str, apart: Callable[[], Apart]) -> pl.DataFrame:
    """As :func:`renew`, of a stage that may have been begun."""
    begun = (ahead() or {}).pop(stage, None)
    return begun.end() if isinstance(begun, Renewal) else renew(con, apart())


def _dated_states(states: pl.DataFrame, known: pl.DataFrame) -> pl.DataFrame:
    """With the digest of the month that each rests on."""
    return states.join(known.select(*MONTH, "digest"), on=MONTH, maintain_order="left")


def unit_digests(con: duckdb.DuckDBPyConnection, apart: Apart) -> pl.DataFrame:
    """Every unit of which the stage reads anything: its columns, ``unit`` (as text), and ``digest`` of all that it rests on."""
    parts = [
        _digests(con, read, apart).with_columns((pl.lit(f"{name}:{number}:") + pl.col("digest")).alias("digest"))
        for name, parts in sorted(apart.reads.items())
        for number, read in enumerate([parts] if isinstance(parts, Read | pl.DataFrame) else parts)
        if isinstance(read, pl.DataFrame) or read.told
    ]
    ground = f"{computed_by()}|{apart.stage}|{apart.rests_on}|"
    together = (
        pl.concat(parts)
        .sort(*apart.by, "digest")
        .group_by(apart.by, maintain_order=True)
        .agg(pl.col("digest").str.join("|"))
        .with_columns(pl.concat_str([pl.col(name).cast(pl.String) for name in apart.by], separator="|").alias("unit"))
    )
    if apart.days:
        return together.with_columns(pl.Series("digest", _chained(ground, together), dtype=pl.Int64))
    return together.with_columns((pl.lit(ground) + pl.col("digest")).hash().reinterpret(signed=True).alias("digest"))


def _chained(ground: str, units: pl.DataFrame) -> list[int]:
    """Digests of months, each with those of the player's months before it."""
    found: list[int] = []
    last = ""
    for player_id, text in units.select("player_id", "digest").iter_rows():
        found.append(_number(f"{ground}{found[-1] if player_id == last else ''}|{text}"))
        last = player_id
    return found


def known_estimates(con: duckdb.DuckDBPyConnection, stage: str) -> Estimates:
    """Estimates of the squad that stand: made by the same stage, program and libraries."""
    return Estimates(stored_estimates(con, stage, computed_by()))


def keep_estimates(con: duckdb.DuckDBPyConnection, stage: str, estimates: Estimates) -> None:
    """Keep those that the stage has asked for tonight, and no other; call it within a transaction."""
    gone, new = estimates.changes()
    replace_estimates(con, stage, computed_by(), gone, new)


def differing(con: duckdb.DuckDBPyConnection, apart: Apart, players: pl.Series) -> tuple[int, list[str]]:
    """How many units of some players stand, and the tables whose rows of them are not what is computed from the same rows now."""
    known = unit_digests(con, apart).filter(pl.col("player_id").is_in(players.implode()))
    stand = known.join(stored_digests(con, apart.stage), on=["unit", "digest"], how="semi", maintain_order="left")
    if stand.is_empty():
        return 0, []
    units = stand.select(apart.by)
    read, kept = rows_read(con, apart, units), [apart.states] if apart.states else []
    found = apart.measure({**read, **{name: read[name].clear() for name, _ in kept}})  # nothing is gone on from
    names = [table.name for table in apart.tables if not _stored(con, apart, table, units).equals(_sorted(found, table))]
    return stand.height, names + [
        table.name for name, table in kept if not _same_states(table, read[name], _dated_states(found[table.name], known))
    ]


def _same_states(table: Table, kept: pl.DataFrame, found: pl.DataFrame) -> bool:
    """Whether states are those that are found, as far as they rest on the same months."""
    on = [*table.grain, "month_on", "digest"]
    told, again = (
        one.join(other, on=on, how="semi").select(table.names).sort(on) for one, other in ((kept, found), (found, kept))
    )
    return told.equals(again)


def _stored(con: duckdb.DuckDBPyConnection, apart: Apart, table: Table, units: pl.DataFrame) -> pl.DataFrame:
    rows = unit_rows(con, table.name, units, None, table.grain, apart.days.get(table.name))
    kinds = _kinds(apart, table)
    return (rows.filter(pl.col("kind").is_in(kinds)) if kinds else rows).sort(table.grain, nulls_last=True)


def _sorted(found: Frames, table: Table) -> pl.DataFrame:
    rows = found[table.name].select(pl.col(name).cast(kind) for name, kind in table.polars_schema().items())
    return rows.sort(table.grain, nulls_last=True)


def player_blocks(units: pl.DataFrame) -> list[pl.DataFrame]:
    """The units, some players at a time."""
    players = units["player_id"].unique().sort()
    return [
        units.filter(pl.col("player_id").is_in(players[start : start + PLAYERS_AT_ONCE].implode()))
        for start in range(0, len(players), PLAYERS_AT_ONCE)
    ]


def _rows_of_blocks(con: duckdb.DuckDBPyConnection, apart: Apart, blocks: list[pl.DataFrame]) -> Iterator[Frames]:
    """What the stage reads of each block."""
    size = _blocks_read_together(con, apart)
    for begin in range(0, len(blocks), size):
        some = blocks[begin : begin + size]
        together = rows_read(con, apart, pl.concat(some).select(apart.by))
        numbers = pl.concat(block.select("player_id", block=pl.lit(number)).unique() for number, block in enumerate(some))
        # once of all rows: to look for names in them takes longer than to choose by number
        block_of = {name: _looked_up(rows["player_id"], numbers) for name, rows in together.items()}
        for number in range(len(some)):
            yield {name: rows.filter(block_of[name] == number) for name, rows in together.items()}
        del together  # before the next are read
        give_back_memory()


def _looked_up(players: pl.Series, numbers: pl.DataFrame) -> pl.Series:
    """The block of each player."""
    return players.to_frame().join(numbers, on="player_id", how="left", maintain_order="left")["block"]


def _blocks_read_together(con: duckdb.DuckDBPyConnection, apart: Apart) -> int:
    """As many blocks as a stage asks for; of shots, fewer where players have struck more of them than usual."""
    reads = [read for read in apart.reads.values() if isinstance(read, Read)]
    if not any({"shot_no", "ball_no"} & set(read.order) for read in reads):
        return apart.blocks_at_once
    usual = SHOTS_READ_TOGETHER / (BLOCKS_READ_TOGETHER * PLAYERS_AT_ONCE)
    share = min(1.0, usual / max(usual, shots_of_a_player(con)))
    return max(1, round(share * apart.blocks_at_once))


def rows_read(con: duckdb.DuckDBPyConnection, apart: Apart, units: pl.DataFrame) -> Frames:
    """What the stage reads of these units."""
    of = units.select("player_id").unique(maintain_order=True) if apart.days else units
    rows = {
        name: _rows_of_view(con, read, units if read.asked else of)
        if isinstance(read, Read)
        else _of_units([read] if isinstance(read, pl.DataFrame) else read, of)
        for name, read in apart.reads.items()
    }
    return rows | {ASKED: units} if apart.days else rows


def _rows_of_view(con: duckdb.DuckDBPyConnection, read: Read, units: pl.DataFrame) -> pl.DataFrame:
    return unit_rows(con, read.view, units, read.until, read.order, _days(read) if read.asked else None, read.columns)


def _of_units(parts: Sequence[pl.DataFrame], units: pl.DataFrame) -> pl.DataFrame:
    """Rows of these units; a column that a part lacks is null."""
    return pl.concat([part.join(units, on=units.columns, how="semi", maintain_order="left") for part in parts], how="diagonal")


def _digests(con: duckdb.DuckDBPyConnection, read: Read | pl.DataFrame, apart: Apart) -> pl.DataFrame:
    if not isinstance(read, Read):
        return frame_digests(read, apart.by)
    return view_digests(con, read.view, apart.by, read.until, _days(read) if apart.days else None)


def _days(read: Read) -> str | None:
    """Column of days that tells the month of a row."""
    return read.until[0] if read.until else None


def _kinds(apart: Apart, table: Table) -> tuple[str, ...]:
    return apart.kinds if "kind" in table.names else ()


def _number(text: str) -> int:
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), signed=True)


@cache
def computed_by() -> str:
    """The program and the libraries that compute, as they were when this process loaded them."""
    return "|".join([program_digest(), *(f"{name} {metadata.version(name)}" for name in _LIBRARIES)])
