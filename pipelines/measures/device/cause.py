"""Whether a common move on one device is the device's or the players', where players on two devices can tell."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from pipelines.measures.device.dating import DatedMove
from pipelines.measures.device.window import WINDOW_DAYS, bridging_rows, fitted_offsets
from schemas.core.trends import FEWEST_SHARERS

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


def jump_cause(rows: pl.DataFrame, device_id: str, dated: DatedMove, scale: float) -> JumpCause:
    """The cause of a common move on one device.

    Parameters
    ----------
    rows : polars.DataFrame
        Sessions on this and on comparable devices: player_id, club, on_date, device_id, x (after the offsets in force), variance.
    device_id : str
    dated : DatedMove
        Of its players.
    scale : float

    Notes
    -----
    The device against all others, since the move and in the 90 days before, each from sessions of players who used both within
    28 days; sessions that may be of either side are left out. The device has moved where that contrast did, by 2.5 standard
    errors and at least half of the move; the players have where the upper 90 % limit of the
    contrast lies below half of the move. Everything else, and fewer than three such players on either side, is unclear.

    Source: own rule on [Henderson1984]
    Checked: tests/unit/test_device_monitor.py
    """
    pooled = rows.with_columns(
        pl.when(pl.col("device_id") == device_id).then(pl.lit("it")).otherwise(pl.lit("other")).alias("device_id")
    )
    since = pooled.filter(pl.col("on_date") >= dated.latest_on)
    first = dated.earliest_on - dt.timedelta(WINDOW_DAYS)
    before = pooled.filter(pl.col("on_date").is_between(first, dated.earliest_on, closed="left"))
    now, then = _contrast(since, scale), _contrast(before, scale)
    if now is None or then is None:
        return JumpCause("unclear")
    amount, error = now[0] - then[0], float(np.hypot(now[1], then[1]))
    along, half = amount * np.sign(dated.amount), abs(dated.amount) / 2.0
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
    return *found.between(0, 1), n_bridges


def ratio_cause(ratios: pl.DataFrame, device_id: str, dated: DatedMove) -> JumpCause:
    """The cause of a common move of one reading, from club and ball of the same shots: only ever the device.

    Parameters
    ----------
    ratios : polars.DataFrame
        player_id, club, session_id, on_date, device_id, x (the ratio, turned so that it moves with a wrong reading), variance.
    device_id : str
    dated : DatedMove
        Of its players.

    Notes
    -----
    Players who are faster send the ball off faster too: the ratio stays. Of one wrong reading it moves by as much, on one day.
    In the four weeks before and since, ``x = player + d * (since) + s * t`` by weighted least squares: a step beside a slope,
    so that a ratio that wanders is no step. The device has moved where d is half of the move or more, by 2.5 standard errors,
    and so is the mean since minus the mean before. A ratio that stays tells nothing: both readings may be off.

    Source: own rule
    Checked: tests/unit/test_device_monitor.py
    """
    month, day = dt.timedelta(days=28), pl.col("on_date")
    mine = ratios.filter(
        pl.col("device_id") == device_id,
        day.is_between(dated.earliest_on - month, dated.latest_on + month, closed="left"),
        (day < dated.earliest_on) | (day >= dated.latest_on),
    ).with_columns((day >= dated.latest_on).alias("since"))
    moved, stepped = _ratio_move(mine), _ratio_step(mine)
    if moved is None or stepped is None:
        return JumpCause("unclear")
    sign, half = np.sign(dated.amount), abs(dated.amount) / 2.0
    if any(amount * sign < max(half, _CLEARLY * error) for amount, error in (moved, stepped)):
        return JumpCause("unclear")
    return JumpCause("device", moved[0], moved[1], len(set(mine["player_id"])))


def _ratio_step(rows: pl.DataFrame) -> tuple[float, float] | None:
    """The step beside a slope, levels of players free, and its standard error; None where the two cannot be told apart."""
    own, weight = ("player_id", "club"), 1.0 / pl.col("variance")
    columns = {
        "x": pl.col("x"),
        "since": pl.col("since").cast(pl.Float64),
        "t": pl.col("on_date").cast(pl.Int32).cast(pl.Float64),
    }
    about = rows.select(
        weight.alias("weight"),
        *((one - (one * weight).sum().over(own) / weight.sum().over(own)).alias(name) for name, one in columns.items()),
    )
    design, weights = about.select("since", "t").to_numpy(), about["weight"].to_numpy()
    information = design.T @ (weights[:, None] * design)
    if not information[0, 0] * information[1, 1] > 1.0001 * information[0, 1] ** 2:
        return None
    covariance = np.linalg.inv(information)
    step = covariance @ (design.T @ (weights * about["x"].to_numpy()))
    left = about["x"].to_numpy() - design @ step
    spread = max(float(weights @ left**2) / max(rows.height - rows.select(own).n_unique() - 2, 1), 1.0)
    return float(step[0]), float(np.sqrt(spread * covariance[0, 0]))


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
