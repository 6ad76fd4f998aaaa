"""Offsets between devices from a window of sessions, and month by month where nobody watches for shifts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.device.offsets import device_offsets

Floats = NDArray[np.float64]

WINDOW_DAYS = 90
FEWEST_SHARERS = 3
"""Offset of a device that fewer players have used beside another one is not told: player and device cannot be told apart."""

PLAYER_SD, DEVICE_SD = 20.0, 1.0
"""Prior standard deviations of levels between players and of offsets between devices, in scale units of the quantity."""


@dataclass(frozen=True)
class WindowOffset:
    """What one device reads above the one of its group that was used first.

    Attributes
    ----------
    device_id : str
    offset, error : float
        [change unit]; both 0 for the first one itself.
    n_players, n_bridges : int
        Players on it, and those of them who used another one too.
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


def window_offsets(window: pl.DataFrame, scale: float, in_use: list[str]) -> list[WindowOffset]:
    """Offsets of the devices of a window that can be told, against the first used of their group.

    Parameters
    ----------
    window : polars.DataFrame
        player_id, club, device_id, x, variance.
    scale : float
        Scale of the quantity [change unit].
    in_use : list of str
        Devices in the order of their first use.

    Source: [Henderson1984]
    Checked: tests/unit/test_device_monitor.py
    """
    devices = window["device_id"].unique()
    device_ids = [device_id for device_id in in_use if device_id in set(devices)]
    if len(device_ids) < 2:
        return []
    device = window["device_id"].replace_strict(device_ids, range(len(device_ids)), return_dtype=pl.Int64).to_numpy()
    player = window.select(pl.struct("player_id", "club").rank("dense").alias("rank"))["rank"].to_numpy().astype(np.int64) - 1
    found = device_offsets(
        window["x"].to_numpy() - window["x"].mean(),
        window["variance"].to_numpy(),
        player,
        device,
        len(device_ids),
        (PLAYER_SD * scale) ** 2,
        (DEVICE_SD * scale) ** 2,
    )
    users = _users(window)
    told = []
    for number, device_id in enumerate(device_ids):
        anchor = int(np.flatnonzero(found.group == found.group[number])[0])
        if number == anchor:
            told.append(WindowOffset(device_id, 0.0, 0.0, *users[device_id]))
        elif users[device_id][1] >= FEWEST_SHARERS:
            error = float(np.hypot(found.error[number], found.error[anchor]))
            told.append(WindowOffset(device_id, float(found.offset[number] - found.offset[anchor]), error, *users[device_id]))
    return told


def _users(window: pl.DataFrame) -> dict[str, tuple[int, int]]:
    """Players on each device, and those of them who used another one too."""
    pairs = window.select("player_id", "device_id").unique()
    several = pairs.with_columns((pl.len().over("player_id") > 1).alias("several"))
    counts = several.group_by("device_id").agg(pl.len(), pl.col("several").sum())
    return {device_id: (int(n), int(bridges)) for device_id, n, bridges in counts.iter_rows()}


def month_offsets(observed: pl.DataFrame, scale: float) -> tuple[Floats, list[OffsetInForce]]:
    """Offset to take off each observation, learned at the first of its month from the 90 days before.

    Parameters
    ----------
    observed : polars.DataFrame
        Observations of one quantity: player_id, club, device_id, on_date, x, variance, and series (not empty: the device is
        followed
        on its own and left alone).
    scale : float
        Scale of the quantity [change unit].

    Returns
    -------
    (n,) array, list of OffsetInForce
        In the order of the rows; an offset stays in force until a later month can tell another.

    Source: [Henderson1984]
    Checked: tests/unit/test_device_monitor.py
    """
    shared = observed.filter(pl.col("series") == "").sort("on_date", "device_id")
    in_use = list(dict.fromkeys(shared["device_id"]))
    in_force: list[OffsetInForce] = []
    for start in sorted(set(shared["on_date"].dt.month_start())):
        window = shared.filter(pl.col("on_date").is_between(start - dt.timedelta(days=WINDOW_DAYS), start, closed="left"))
        in_force.extend(
            OffsetInForce(one.device_id, start, one.offset, one.error or None, one.n_players, one.n_bridges, "window")
            for one in window_offsets(window, scale, in_use)
        )
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
