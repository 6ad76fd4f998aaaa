"""Offsets between devices from a window of sessions, and month by month where nobody watches for shifts."""

from __future__ import annotations

import datetime as dt
from dataclasses import astuple, dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.device.offsets import DeviceOffsets, Wander, device_offsets
from pipelines.measures.estimates import MONTHS_MADE, Estimates, inputs_digest
from schemas.core.trends import FEWEST_SHARERS

Floats = NDArray[np.float64]

WINDOW_DAYS = 90
BRIDGE_DAYS = 28
"""Sessions of a player on two devices tell them apart when they are at most so many days from each other."""

DEVICE_SD = 1.0
"""Prior standard deviation of offsets between devices, in scale units of the quantity."""

LEVEL_WANDER, SLOPE_SD = 0.8, 20.0
"""A player's own level meanwhile, in scale units: wander in 28 days; the slope is all but free, for a
squad that trains has one."""


@dataclass(frozen=True)
class WindowOffset:
    """What one device reads above the one of its group that was used first.

    Attributes
    ----------
    device_id : str
    offset, error : float
        [change unit]; the error is 0 for the first one itself.
    n_players, n_bridges : int
        Players on it, and those of them who used another one within 28 days.
    """

    device_id: str
    offset: float
    error: float
    n_players: int
    n_bridges: int


@dataclass(frozen=True)
class OffsetInForce:
    """An offset from a day on; see the table ``device_offset``."""

    device_id: str
    from_on: dt.date
    offset: float
    error: float | None
    n_players: int
    n_bridges: int
    basis: str


def window_offsets(
    window: pl.DataFrame, scale: float, in_force: dict[str, float | None], estimates: Estimates | None = None
) -> list[WindowOffset]:
    """Offsets of the devices of a window that can be told, against the first used of their group.

    Parameters
    ----------
    window : polars.DataFrame
        player_id, club, on_date, device_id, x, variance.
    scale : float
        Scale of the quantity [change unit].
    in_force : dict
        Devices in the order of their first use, with the offset that holds so far (None: none yet).
    estimates : Estimates, optional
        Those of before.

    Notes
    -----
    Only sessions count that lie within 28 days of a session of the same player on another device. The first used device of a
    group keeps its offset; the others are told against it.

    Source: [Henderson1984]
    Checked: tests/unit/test_device_monitor.py
    """
    read = window.select(_READ)
    here = set(read["device_id"].unique())
    first_used = {name: offset for name, offset in in_force.items() if name in here}

    def make() -> list[tuple[str, float, float, int, int]]:
        return [astuple(one) for one in _told(read, scale, first_used)]

    return [WindowOffset(*one) for one in (estimates or Estimates()).once("offsets", read, (scale, first_used), make)]


_READ = ("player_id", "club", "on_date", "device_id", "x", "variance")


def _told(window: pl.DataFrame, scale: float, in_force: dict[str, float | None]) -> list[WindowOffset]:
    near = bridging_rows(window)
    here = set(near["device_id"].unique())
    device_ids = [device_id for device_id in in_force if device_id in here]
    if len(device_ids) < 2:
        return []
    found = fitted_offsets(near, device_ids, scale, DEVICE_SD * scale)
    users, bridges = _users(window), _users(near)
    told = []
    for number, device_id in enumerate(device_ids):
        anchor = int(np.flatnonzero(found.group == found.group[number])[0])
        known = in_force[device_ids[anchor]] or 0.0
        if number == anchor:
            told.append(WindowOffset(device_id, known, 0.0, users[device_id], bridges[device_id]))
        elif bridges[device_id] >= FEWEST_SHARERS:
            above, error = found.between(number, anchor)
            told.append(WindowOffset(device_id, known + above, error, users[device_id], bridges[device_id]))
    return told


def fitted_offsets(near: pl.DataFrame, device_ids: list[str], scale: float, device_sd: float) -> DeviceOffsets:
    """Offsets of devices from sessions that tie them together; see :func:`device_offsets`."""
    device = near["device_id"].replace_strict(device_ids, range(len(device_ids)), return_dtype=pl.Int64).to_numpy()
    player = near.select(pl.struct("player_id", "club").rank("dense").alias("rank"))["rank"].to_numpy().astype(np.int64) - 1
    days = near["on_date"].cast(pl.Int32).to_numpy().astype(np.float64)
    wander = Wander((LEVEL_WANDER * scale) ** 2 / BRIDGE_DAYS, (SLOPE_SD * scale / BRIDGE_DAYS) ** 2)
    values, variances = near["x"].to_numpy(), near["variance"].to_numpy()
    return device_offsets(values, variances, days, player, device, len(device_ids), wander, device_sd**2)


def bridging_rows(window: pl.DataFrame) -> pl.DataFrame:
    """Sessions within 28 days of a session of the same player, with the same club, on another device."""
    if window.is_empty():
        return window
    by_day = window.select(*_OF_DEVICE, "on_date").with_row_index("row").sort("player_id", "club", "on_date")
    ids = (pl.struct(columns).rle_id().alias(name) for name, columns in (("own", _OF_DEVICE[:2]), ("run", _OF_DEVICE)))
    own, run = (column.to_numpy() for column in by_day.select(*ids))
    days = by_day["on_date"].cast(pl.Int32).to_numpy().astype(np.float64)
    # of all sessions on other devices the nearest ones are the last before a run on one device, and the first after it
    first = np.flatnonzero(np.diff(run, prepend=-1))
    follows = np.diff(own[first]) == 0
    before = np.append(-np.inf, np.where(follows, days[first[1:] - 1], -np.inf))
    after = np.append(np.where(follows, days[first[1:]], np.inf), np.inf)
    near = (days - before[run] <= BRIDGE_DAYS) | (after[run] - days <= BRIDGE_DAYS)
    return window[np.sort(by_day["row"].to_numpy()[near])]


_OF_DEVICE = ("player_id", "club", "device_id")


def _users(rows: pl.DataFrame) -> dict[str, int]:
    """Players on each device."""
    return dict(rows.group_by("device_id").agg(pl.col("player_id").n_unique()).iter_rows())


def month_offsets(observed: pl.DataFrame, scale: float, estimates: Estimates | None = None) -> tuple[Floats, list[OffsetInForce]]:
    """Offset to take off each observation, learned at the first of its month from the 90 days before.

    Parameters
    ----------
    observed : polars.DataFrame
        Observations of one quantity: player_id, club, device_id, on_date, x, variance, and series (not empty: the device is
        followed
        on its own and left alone).
    scale : float
        Scale of the quantity [change unit].
    estimates : Estimates, optional
        Those of before.

    Returns
    -------
    (n,) array, list of OffsetInForce
        In the order of the rows; an offset stays in force until a later month can tell another.

    Source: [Henderson1984]
    Checked: tests/unit/test_device_monitor.py
    """
    shared = observed.filter(pl.col("series") == "").sort("on_date", "device_id", "player_id", "club", "x", "variance")
    in_force = _by_month(shared, scale, estimates or Estimates())
    rows = {"device_id": [one.device_id for one in in_force], "from_on": [one.from_on for one in in_force]}
    table = pl.DataFrame(rows, schema={"device_id": pl.String, "from_on": pl.Date}).with_columns(
        pl.Series("offset", [one.offset for one in in_force], dtype=pl.Float64)
    )
    joined = (
        observed.with_row_index("row")
        .sort("on_date")
        .join_asof(table.sort("from_on"), left_on="on_date", right_on="from_on", by="device_id", check_sortedness=False)
        .sort("row")
    )
    offset = pl.when(pl.col("series") == "").then(pl.col("offset")).fill_null(0.0)
    return joined.select(offset.alias("offset"))["offset"].to_numpy(), [one for one in in_force if one.error is not None]


def _by_month(shared: pl.DataFrame, scale: float, estimates: Estimates) -> list[OffsetInForce]:
    """Offsets from each month on. What was told by the last month but one is known by the sessions before it."""
    months, since = shared["on_date"].dt.month_start().unique().sort().to_list(), len(estimates.asked)
    if len(months) <= MONTHS_MADE:
        return _following(shared, months, scale, [], estimates)
    closed, recent = months[:-MONTHS_MADE], months[-MONTHS_MADE:]
    begun = recent[0]
    told = _recalled(shared, begun, scale, estimates)
    if told is None:
        told = _recalled(shared, closed[-1], scale, estimates)
        told = _following(shared, closed if told is None else closed[-1:], scale, told or [], estimates)
    rows = [(one.device_id, one.from_on, *astuple(one)[2:]) for one in told]
    estimates.keep(_digest(shared, begun, scale), rows, since)
    return _following(shared, recent, scale, told, estimates)


def _digest(shared: pl.DataFrame, until: dt.date, scale: float) -> str:
    return inputs_digest("offsets by month", shared.filter(pl.col("on_date") < until).select(_READ), scale)


def _recalled(shared: pl.DataFrame, until: dt.date, scale: float, estimates: Estimates) -> list[OffsetInForce] | None:
    known = estimates.recalled(_digest(shared, until, scale))
    return None if known is None else [OffsetInForce(name, dt.date.fromisoformat(on), *told) for name, on, *told in known]


def _following(
    shared: pl.DataFrame, months: list[dt.date], scale: float, told: list[OffsetInForce], estimates: Estimates
) -> list[OffsetInForce]:
    """With the offsets of some months, after all that was told before."""
    known: dict[str, float | None] = dict.fromkeys(shared["device_id"].unique(maintain_order=True))
    known |= {one.device_id: one.offset for one in told}
    found = list(told)
    for start in months:
        window = shared.filter(pl.col("on_date").is_between(start - dt.timedelta(days=WINDOW_DAYS), start, closed="left"))
        for one in window_offsets(window, scale, known, estimates):
            known[one.device_id] = one.offset
            found.append(
                OffsetInForce(one.device_id, start, one.offset, one.error or None, one.n_players, one.n_bridges, "two devices")
            )
    return found
