"""What the watch over devices knows by now, and how what it takes off is put in place of what it took off before."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.device.cause import Cause
from pipelines.measures.device.dating import DatedMove
from pipelines.measures.device.moves import Side, Usual
from pipelines.measures.device.results import DeviceShift
from pipelines.measures.device.window import WINDOW_DAYS, OffsetInForce
from pipelines.measures.estimates import Estimates
from schemas.core.trends import FEWEST_SHARERS

Floats = NDArray[np.float64]

Word = tuple[Cause, dt.date]
"""What a person said of a suspicion, and when."""

MEMORY_SESSIONS = 60
"""Sessions from which what is usual of a player is learned anew; it remembers about twelve."""


@dataclass
class Device:
    """What is known of one device."""

    first_on: dt.date
    static: float | None = None  # None: not compared with another device yet
    error: float = 0.0  # of static
    shifted: float = 0.0
    shifted_error: float = 0.0
    up: Side = field(default_factory=Side)
    down: Side = field(default_factory=Side)
    users: dict[str, dt.date] = field(default_factory=dict)
    suspicion: int | None = None  # its number among the shifts
    settling: int | None = None
    asked_on: dt.date | None = None

    @property
    def offset(self) -> float:
        """What is taken off its sessions."""
        return (self.static or 0.0) + self.shifted

    def is_shared(self, on: dt.date) -> bool:
        """Whether enough players have used it lately."""
        oldest = on - dt.timedelta(days=WINDOW_DAYS)
        return sum(last >= oldest for last in self.users.values()) >= FEWEST_SHARERS

    def is_new(self, on: dt.date) -> bool:
        """Whether it was first used not long ago."""
        return (on - self.first_on).days <= WINDOW_DAYS


class Cells(NamedTuple):
    """What single rows are asked for."""

    device_id: list[str]
    on_date: list[dt.date]
    x: list[float]
    variance: list[float]


@dataclass
class Watch:
    """Of one quantity, while its days pass."""

    scale: float
    rows: pl.DataFrame
    said: Callable[[str, dt.date], Word | None]
    ratios: pl.DataFrame | None
    estimates: Estimates
    offsets: Floats
    series: list[str]
    shifted: Floats  # of each row, as known best by now
    apart: NDArray[np.bool_]  # rows that may be of either side of a move
    doubt: Floats
    devices: dict[str, Device] = field(default_factory=dict)
    usual: dict[tuple[str, str], Usual] = field(default_factory=dict)
    seen: dict[tuple[str, str], list[int]] = field(default_factory=dict)  # rows of each player and club
    alone: dict[tuple[str, str], list[int]] = field(default_factory=dict)  # of those with none seen: the last ones, on one device
    in_force: list[OffsetInForce] = field(default_factory=list)
    shifts: list[DeviceShift] = field(default_factory=list)
    dates: list[DatedMove] = field(default_factory=list)  # of each shift, as known best by now
    taken: list[float] = field(default_factory=list)  # off for each shift, as known best by now
    of_ratio: set[int] = field(default_factory=set)  # shifts that club and ball of the same shots have told
    heeded: dict[int, Word] = field(default_factory=dict)  # shifts of which a person has said something, and what

    @cached_property
    def cells(self) -> Cells:
        """Of every row by its number, to read one at a time."""
        return Cells(*self.rows.sort("row").select(Cells._fields).to_dict(as_series=False).values())


def stands_alone(watch: Watch, key: tuple[str, str], row: int) -> None:
    """Note a row of a device of few players: with those before it on the same device it joins the others once it is shared."""
    rows = watch.alone.setdefault(key, [])
    if rows and watch.cells.device_id[rows[-1]] != watch.cells.device_id[row]:
        rows.clear()
    rows.append(row)


def comparable(watch: Watch, on: dt.date) -> pl.DataFrame:
    """Sessions up to a day on devices that are not followed on their own, after what is known of their offsets."""
    rows = watch.rows.filter(pl.col("on_date") <= on)
    row = rows["row"].to_numpy()
    statics = pl.col("device_id").replace_strict({name: one.static or 0.0 for name, one in watch.devices.items()}, default=0.0)
    shared = pl.Series([not watch.series[number] and not watch.apart[number] for number in row], dtype=pl.Boolean)
    return rows.with_columns((pl.col("x") - statics - pl.Series(watch.shifted[row])).alias("x")).filter(shared)


def take_off(watch: Watch, number: int, amount: float, dated: DatedMove) -> None:
    """In place of what was taken off for a move so far, from now on and from what was learned since it began."""
    shift, before, taken = watch.shifts[number], watch.dates[number], watch.taken[number]
    first = min(before.earliest_on, dated.earliest_on)
    cells = watch.cells
    players = [key for key, rows in watch.seen.items() if _came_since(cells, rows, shift.device_id, first)]
    for key in players:
        for at in watch.seen[key]:
            on = cells.on_date[at]
            if cells.device_id[at] != shift.device_id or on < first:
                continue
            watch.shifted[at] += amount * (on >= dated.latest_on) - taken * (on >= before.latest_on)
            watch.apart[at] = amount != 0.0 and dated.earliest_on <= on < dated.latest_on
    watch.devices[shift.device_id].shifted += amount - taken
    watch.taken[number], watch.dates[number] = amount, dated
    for key in players:
        watch.usual[key] = _learned(watch, watch.seen[key][-MEMORY_SESSIONS:])


def _came_since(cells: Cells, rows: list[int], device_id: str, first: dt.date) -> bool:
    since = itertools.takewhile(lambda at: cells.on_date[at] >= first, reversed(rows))
    return any(cells.device_id[at] == device_id for at in since)


def _learned(watch: Watch, rows: list[int]) -> Usual:
    """What is usual of a player with a club, as known best by now."""
    usual, cells = Usual(), watch.cells
    for at in rows:
        device_id = cells.device_id[at]
        if not watch.apart[at]:
            offset = (watch.devices[device_id].static or 0.0) + watch.shifted[at]
            usual.learn(device_id, cells.x[at] - offset, cells.variance[at])
    return usual
