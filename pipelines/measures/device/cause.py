"""Whether a common move on one device is the device's or the players', where players on two devices can tell."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from pipelines.measures.device.window import FEWEST_SHARERS, WINDOW_DAYS, bridging_rows, fitted_offsets

Cause = Literal["device", "players", "unclear"]

_FREE = 100.0  # scale units: what is asked for is not drawn toward 0
_CLEARLY, _UPPER = 2.5, 1.645


@dataclass(frozen=True)
class JumpCause:
    """What players on two devices say of a move.

    Attributes
    ----------
    cause : {"device", "players", "unclear"}
    amount, error : float
        By how much the device has moved against the others [change unit], and its standard error; 0 and ``inf`` where it cannot
        be told.
    n_bridges : int
        Players who have used it and another one within 28 days, since the move.
    """

    cause: Cause
    amount: float = 0.0
    error: float = np.inf
    n_bridges: int = 0


def jump_cause(rows: pl.DataFrame, device_id: str, began: dt.date, move: float, scale: float) -> JumpCause:
    """The cause of a common move on one device.

    Parameters
    ----------
    rows : polars.DataFrame
        Sessions on this and on comparable devices: player_id, club, on_date, device_id, x (after the offsets in force), variance.
    device_id : str
    began : datetime.date
        First day after the move.
    move : float
        Mean move of its players [change unit].
    scale : float

    Notes
    -----
    The device against all others, since the move and in the 90 days before, each from sessions of players who used both within
    28 days. The device has moved where that contrast did, by 2.5 standard errors and at least half of the move; the players have
    where the upper 90 % limit of the contrast lies below half of the move. Everything else, and fewer than three such
    players on either side, is unclear.

    Source: own rule on [Henderson1984]
    Checked: tests/unit/test_device_monitor.py
    """
    pooled = rows.with_columns(
        pl.when(pl.col("device_id") == device_id).then(pl.lit("it")).otherwise(pl.lit("other")).alias("device_id")
    )
    since = pooled.filter(pl.col("on_date") >= began)
    before = pooled.filter(pl.col("on_date").is_between(began - dt.timedelta(WINDOW_DAYS), began, closed="left"))
    now, then = _contrast(since, scale), _contrast(before, scale)
    if now is None or then is None:
        return JumpCause("unclear")
    amount, error = now[0] - then[0], float(np.hypot(now[1], then[1]))
    along, half = amount * np.sign(move), abs(move) / 2.0
    if along >= _CLEARLY * error and along >= half:
        return JumpCause("device", amount, error, now[2])
    cause: Cause = "players" if along + _UPPER * error < half else "unclear"
    return JumpCause(cause, amount, error, now[2])


def _contrast(rows: pl.DataFrame, scale: float) -> tuple[float, float, int] | None:
    near = bridging_rows(rows)
    n_bridges = near["player_id"].n_unique()
    if n_bridges < FEWEST_SHARERS:
        return None
    found = fitted_offsets(near, ["it", "other"], scale, _FREE * scale)
    return float(found.offset[0] - found.offset[1]), float(2.0 * found.error[0]), n_bridges
