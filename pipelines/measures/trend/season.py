"""The season of club speed: what a squad shares, and what each player's own years say beyond that."""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Season = tuple[float, float]
"""Sine and cosine of the year."""

YEAR_DAYS = 365.25
FEWEST_SEASON_DAYS, FEWEST_PLAYERS, FEWEST_OWN_SESSIONS = 300, 5, 24
MIDDLE_VARIANCE = 1.195
"""Variance of the mean of the middle half of normal values over that of the mean of all (own integral: the trimmed
mean's asymptotic variance)."""

BY_ERRORS = 2.1
"""The square of what a median absolute deviation becomes when a quarter of the values lie far out: that of the others at 2/3."""

CUT_AT = 2.5
"""Own seasons farther from the squad's are cut there [robust standard deviations]: one who fell in a month has no season."""


def of_season(season: tuple[float | Floats, float | Floats], day: Floats) -> Floats:
    """What a season of (sine, cosine) adds on each day."""
    angle = 2.0 * np.pi * day / YEAR_DAYS
    return np.asarray(season[0] * np.sin(angle) + season[1] * np.cos(angle))


def seasons(rows: pl.DataFrame) -> tuple[Season, dict[tuple[str, str], Season]]:
    """The season of a squad, and of each player and club; (0, 0) and nothing while there are too few data.

    Parameters
    ----------
    rows : polars.DataFrame
        player_id, club, day, x, variance; up to two years.

    Returns
    -------
    (sine, cosine), dict
        Of the squad, and of its players, with 300 days and 24 sessions or more [units of x].

    Notes
    -----
    Each player's sine and cosine by weighted least squares, level and slope taken out. Squad: their weighted medians, drawn
    toward 0 by its error: who gained, lost or stopped rising within the year has what looks like a season, and a mean would
    take it for everybody's. Own: the squad's, plus ``A / (A + s**2)`` of what the player's own fit lies away from it, s the
    error of that fit and A the variance between players beyond such errors (by the median absolute deviation, less 2.1 times
    the errors: where something happened to a quarter of the players, errors alone make it so large).

    Source: [Henderson1984] (drawing toward the squad); own rule
    Checked: tests/unit/test_expected.py, tests/benchmarks/detection
    """
    own = ("player_id", "club")
    days, n = (pl.col("day").max() - pl.col("day").min()).over(own), pl.len().over(own)
    long = rows.filter(days >= FEWEST_SEASON_DAYS, n >= FEWEST_OWN_SESSIONS)
    if long.select("player_id").n_unique() < FEWEST_PLAYERS:
        return (0.0, 0.0), {}
    ordered = long.sort(own, maintain_order=True)
    information, right = _sums(ordered, ordered.select(pl.struct(own).rle_id().alias("who"))["who"].to_numpy())
    inverse = np.linalg.inv(information)
    fitted = (inverse @ right[:, :, None])[:, :, 0]
    error = np.stack([inverse[:, 0, 0], inverse[:, 1, 1]], axis=1)
    squad = _of_squad(fitted, error)
    seasons_of = _own_seasons(fitted, error, squad)
    keys = ordered.select(own).unique(maintain_order=True).rows()
    return (float(squad[0]), float(squad[1])), {
        key: (float(sine), float(cosine)) for key, (sine, cosine) in zip(keys, seasons_of, strict=True)
    }


def _of_squad(fitted: Floats, error: Floats) -> Floats:
    """Mean of the middle half of the players, weighed by what they tell, drawn toward 0."""
    middle = np.array([_middle_mean(one, of**-0.5) for one, of in zip(fitted.T, error.T, strict=True)])
    variance = MIDDLE_VARIANCE / fitted.shape[0] * _spread(fitted - middle) ** 2
    kept = 1.0 - float(variance.sum()) / max(float(middle @ middle), 1e-12)
    return np.asarray(max(kept, 0.0) * middle)


def _middle_mean(values: Floats, weight: Floats) -> float:
    """Weighted mean without the quarter of the weight that lies lowest and the one that lies highest."""
    order = np.argsort(values, kind="stable")
    until = np.cumsum(weight[order]) / weight.sum()
    inside = np.diff(np.clip(until, 0.25, 0.75), prepend=0.25)
    return float(values[order] @ inside / inside.sum())


def _spread(apart: Floats) -> Floats:
    return np.asarray(1.4826 * np.median(np.abs(apart - np.median(apart, axis=0)), axis=0))


def _sums(rows: pl.DataFrame, who: NDArray[np.uint32]) -> tuple[Floats, Floats]:
    """Information, (players, 2, 2), and right side, (players, 2), of the sine and cosine of each, level and slope taken out."""
    begin = np.flatnonzero(np.diff(who, prepend=-1))
    day, weight = rows["day"].to_numpy(), 1.0 / rows["variance"].to_numpy()
    total = np.add.reduceat(weight, begin)

    def of_each(values: Floats) -> Floats:
        return np.asarray(np.add.reduceat(weight * values, begin))

    def without_level(values: Floats) -> Floats:
        return np.asarray(values - (of_each(values) / total)[who])

    angle, since = 2.0 * np.pi * day / YEAR_DAYS, without_level(day / YEAR_DAYS)
    level = [without_level(values) for values in (np.sin(angle), np.cos(angle), rows["x"].to_numpy())]
    sine, cosine, x = (one - (of_each(since * one) / of_each(since * since))[who] * since for one in level)
    both = of_each(sine * cosine)
    information = np.stack([of_each(sine * sine), both, both, of_each(cosine * cosine)], axis=1)
    return information.reshape(-1, 2, 2), np.stack([of_each(sine * x), of_each(cosine * x)], axis=1)


def _own_seasons(fitted: Floats, error: Floats, squad: Floats) -> Floats:
    """The squad's, and as much of each player's own fit as tells of a season: (players, 2)."""
    apart = fitted - squad
    between = np.maximum(_spread(apart) ** 2 - BY_ERRORS * np.median(error, axis=0), 0.0)
    reach = CUT_AT * np.sqrt(between + error)
    return np.asarray(squad + between / (between + error) * np.clip(apart, -reach, reach))
