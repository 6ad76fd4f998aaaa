"""Whether a common move on one device is the device's or the players', where players on two devices can tell."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from pipelines.measures.device.window import FEWEST_SHARERS, WINDOW_DAYS, bridging_rows, fitted_offsets

Cause = Literal["device", "players", "unclear"]
CAUSES: tuple[Cause, ...] = ("device", "players", "unclear")

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


def ratio_cause(ratios: pl.DataFrame, device_id: str, began: dt.date, move: float) -> JumpCause:
    """The cause of a common move of one reading, from club and ball of the same shots: only ever the device.

    Parameters
    ----------
    ratios : polars.DataFrame
        player_id, club, session_id, on_date, device_id, x (the ratio, turned so that it moves with a wrong reading), variance.
    device_id : str
    began : datetime.date
    move : float
        Mean move of its players [change unit].

    Notes
    -----
    Players who are faster send the ball off faster too: the ratio stays. Of one wrong reading it moves by as much, on one day.
    Mean over players of the ratio in the four weeks since the move minus the four before; the device has moved where that is half
    of the move or more by 2.5 standard errors, and the sessions of the first three days already show half of it. A ratio that
    stays tells nothing: both readings may be off.

    Source: own rule
    Checked: tests/unit/test_device_monitor.py
    """
    month = dt.timedelta(days=28)
    mine = ratios.filter(
        pl.col("device_id") == device_id, pl.col("on_date").is_between(began - month, began + month, closed="left")
    ).with_columns((pl.col("on_date") >= began).alias("since"))
    first = mine.filter(~pl.col("since") | (pl.col("on_date") < began + dt.timedelta(days=3)))
    moved, at_once = _ratio_move(mine), _ratio_move(first)
    if moved is None or at_once is None:
        return JumpCause("unclear")
    sign, half = np.sign(move), abs(move) / 2.0
    clear = moved[0] * sign >= max(half, _CLEARLY * moved[1]) and at_once[0] * sign >= half
    if not clear:
        return JumpCause("unclear")
    return JumpCause("device", moved[0], moved[1], len(set(mine["player_id"])))


def _ratio_move(rows: pl.DataFrame) -> tuple[float, float] | None:
    """Mean over players of since minus before, and its standard error; None with fewer than three players."""
    weight = 1.0 / pl.col("variance")
    own = rows.group_by("player_id", "club", "since", maintain_order=True).agg(
        ((pl.col("x") * weight).sum() / weight.sum()).alias("mean"), (1.0 / weight.sum()).alias("variance")
    )
    before = own.filter(~pl.col("since"))
    pairs = own.filter(pl.col("since")).join(before, on=["player_id", "club"], suffix="_before", maintain_order="left")
    if pairs["player_id"].n_unique() < FEWEST_SHARERS:
        return None
    weights = 1.0 / (pairs["variance"] + pairs["variance_before"]).to_numpy()
    change = (pairs["mean"] - pairs["mean_before"]).to_numpy()
    mean = float(weights @ change / weights.sum())
    spread = float(np.sqrt(weights**2 @ (change - mean) ** 2) / weights.sum())
    return mean, max(spread, float(weights.sum() ** -0.5))
