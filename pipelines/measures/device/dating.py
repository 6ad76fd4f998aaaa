"""On which day a device moved, and by how much: the likelihood of each day, over all sessions of all its players."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DATED_DAYS, LEVEL_DAYS = 21, 21
"""A move is looked for so many days back from where it was found; levels of players rest on sessions of so many days before."""

MOVE_SD = 3.0
"""Prior standard deviation of a move, in scale units: a day that leaves few sessions after it needs a larger one."""

ODD_AT = 2.5
"""Sessions farther from their player's level and the move count less [standard deviations]."""

_TAIL = 0.05
_ROUNDS = 3


@dataclass(frozen=True)
class DatedMove:
    """When a device moved and by how much.

    Attributes
    ----------
    on : datetime.date
        First day with sessions after the move, the likeliest.
    earliest_on, latest_on : datetime.date
        Within which that day lies with 90 %: sessions from the one up to the day before the other may be of either side.
    amount, error : float
        Over all these days, weighed by how likely they are [change unit].
    """

    on: dt.date
    earliest_on: dt.date
    latest_on: dt.date
    amount: float
    error: float


def dated_move(rows: pl.DataFrame, device_id: str, found_on: dt.date, scale: float) -> DatedMove | None:
    """The day on which a device moved, of one that was found to have moved by some day.

    Parameters
    ----------
    rows : polars.DataFrame
        Sessions on this and on comparable devices: player_id, club, on_date, device_id, x (after the offsets in force), variance.
    device_id : str
    found_on : datetime.date
    scale : float
        [change unit]

    Returns
    -------
    DatedMove or None
        None where no player has sessions on either side.

    Notes
    -----
    ``x = player + d * (on the device, from day k on) + e`` for every day k with sessions on it, of the 21 until it was found;
    player levels are free, from sessions since 21 days before those, on other devices too. With ``d ~ N(0, (3 scale)**2)`` the
    probability of k is ``exp(b**2 / (2 (a + 1/V))) / sqrt(1 + V a)``, a and b the information on d and the score; amount and
    error are those of the mixture over k. Sessions beyond 2.5 standard deviations of the likeliest k count less. The day on
    which a cumulative sum last was 0 is no such date: before the move it runs up by chance.

    Source: derived here (a change at an unknown point, by Bayes' rule)
    Checked: tests/unit/test_device_dating.py (the same by brute force; share of intervals that hold)
    """
    earliest = found_on - dt.timedelta(days=DATED_DAYS)
    near = rows.filter(pl.col("on_date") >= earliest - dt.timedelta(days=LEVEL_DAYS)).filter(
        (pl.col("device_id") == device_id).any().over("player_id", "club")
    ).sort("player_id", "club", "on_date")  # fmt: skip
    is_its = pl.col("device_id") == device_id
    days = (
        near.filter(is_its, pl.col("on_date").is_between(earliest, found_on))["on_date"].unique().sort().cast(pl.Int32).to_numpy()
    )
    if not days.size:
        return None
    its, day = near.select(is_its).to_series().to_numpy(), near["on_date"].cast(pl.Int32).to_numpy()
    first = np.flatnonzero(near.select(pl.struct("player_id", "club").rle_id().diff().fill_null(1) != 0).to_series().to_numpy())
    since = (its[:, None] & (day[:, None] >= days)).astype(np.float64)
    fit = _fitted(near["x"].to_numpy(), near["variance"].to_numpy(), since, first, (MOVE_SD * scale) ** 2)
    return None if fit is None else _mixture(days, *fit)


def _fitted(
    values: Floats, variances: Floats, since: Floats, first: NDArray[np.intp], prior: float
) -> tuple[Floats, Floats, Floats] | None:
    """Probability of each day, the move if it is that day, and its variance; odd sessions count less."""
    weight = 1.0 / variances
    size = np.diff(np.append(first, values.size))
    for _ in range(_ROUNDS):
        total, mean = _sums(weight, first), _sums(weight * values, first)
        mean = mean / total
        about = values - np.repeat(mean, size)
        of_day = _sums(weight[:, None] * since, first)
        information = (of_day * (1.0 - of_day / total[:, None])).sum(axis=0)
        score = (weight * about) @ since
        told = information > 1e-9 * weight.sum()
        if not told.any():
            return None
        log_odds = np.where(told, 0.5 * score**2 / (information + 1.0 / prior) - 0.5 * np.log1p(prior * information), -np.inf)
        probability = np.exp(log_odds - log_odds.max())
        amount, variance = score / np.where(told, information, np.inf), 1.0 / np.where(told, information, np.inf)
        best = int(np.argmax(probability))
        moved = amount[best] * since[:, best]
        level = _sums(weight * (values - moved), first) / total
        off = np.abs(values - moved - np.repeat(level, size)) / np.sqrt(variances)
        weight = np.minimum(1.0, ODD_AT / np.maximum(off, ODD_AT)) / variances
    return probability / probability.sum(), amount, variance


def _sums(cells: Floats, first: NDArray[np.intp]) -> Floats:
    return np.asarray(np.add.reduceat(cells, first, axis=0))


def _mixture(days: NDArray[np.int32], probability: Floats, amount: Floats, variance: Floats) -> DatedMove:
    mean = float(probability @ amount)
    error = float(np.sqrt(probability @ (variance + (amount - mean) ** 2)))
    until = np.cumsum(probability)
    at = [int(days[np.argmax(probability)]), *(int(days[np.searchsorted(until, q)]) for q in (_TAIL, 1.0 - _TAIL))]
    on, earliest, latest = (dt.date(1970, 1, 1) + dt.timedelta(days=one) for one in at)
    return DatedMove(on, min(earliest, on), max(latest, on), mean, error)
