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
        Of the squad; of players with 300 days and 24 sessions or more [units of x].

    Notes
    -----
    Squad: one sine and cosine by weighted least squares over the players with 300 days or more, their own slopes taken out, drawn
    toward 0 by its error between players. Own: the squad's, plus ``A / (A + s**2)`` of what the player's own fit lies away from
    it, s the error of that fit and A the variance between players beyond such errors.

    Source: [Henderson1984] (drawing toward the squad); own rule
    Checked: tests/unit/test_expected.py, tests/benchmarks/detection
    """
    own = ("player_id", "club")
    long = rows.filter((pl.col("day").max() - pl.col("day").min()).over(own) >= FEWEST_SEASON_DAYS)
    if long.select("player_id").n_unique() < FEWEST_PLAYERS:
        return (0.0, 0.0), {}
    parts = long.partition_by(own, maintain_order=True, as_dict=True)
    sums = {(str(key[0]), str(key[1])): _sums(part) for key, part in parts.items()}
    information = np.sum([one for one, _, _ in sums.values()], axis=0)
    beta = np.linalg.solve(information, np.sum([right for _, right, _ in sums.values()], axis=0))
    left = np.array([right - one @ beta for one, right, _ in sums.values()])
    inverse = np.linalg.inv(information)
    covariance = inverse @ (left.T @ left) @ inverse
    kept = max(0.0, 1.0 - float(np.trace(covariance)) / max(float(beta @ beta), 1e-12))
    squad = kept * beta
    return (float(squad[0]), float(squad[1])), _own_seasons(sums, squad)


def _sums(part: pl.DataFrame) -> tuple[Floats, Floats, int]:
    """Information and right side of sine and cosine of one player, level and slope taken out; and how many sessions."""
    day, weight = part["day"].to_numpy(), 1.0 / part["variance"].to_numpy()
    angle = 2.0 * np.pi * day / YEAR_DAYS
    straight = np.stack([np.ones_like(day), (day - day.mean()) / YEAR_DAYS], axis=1)
    both = np.column_stack([np.sin(angle), np.cos(angle), part["x"].to_numpy()])
    root = weight[:, None] ** 0.5
    left = both - straight @ np.linalg.lstsq(straight * root, both * root, rcond=None)[0]
    waves = left[:, :2]
    return waves.T @ (waves * weight[:, None]), waves.T @ (weight * left[:, 2]), day.size


def _own_seasons(sums: dict[tuple[str, str], tuple[Floats, Floats, int]], squad: Floats) -> dict[tuple[str, str], Season]:
    fitted = {key: one for key, one in sums.items() if one[2] >= FEWEST_OWN_SESSIONS}
    if len(fitted) < FEWEST_PLAYERS:
        return {}
    inverse = np.array([np.linalg.inv(information) for information, _, _ in fitted.values()])
    apart = np.array([inv @ right for inv, (_, right, _) in zip(inverse, fitted.values(), strict=True)]) - squad
    error = np.stack([inverse[:, 0, 0], inverse[:, 1, 1]], axis=1)
    spread = 1.4826 * np.median(np.abs(apart - np.median(apart, axis=0)), axis=0)
    between = np.maximum(spread**2 - np.median(error, axis=0), 0.0)
    reach = CUT_AT * np.sqrt(between + error)
    own = squad + between / (between + error) * np.clip(apart, -reach, reach)
    return {key: (float(sine), float(cosine)) for key, (sine, cosine) in zip(fitted, own, strict=True)}
