"""Break-even between club speed and scatter: what a gain of one may cost of the other on a course."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.strokes import DrivePattern, round_strokes
from pipelines.measures.tradeoff.surface import SpeedScale, at_speed

if TYPE_CHECKING:
    from schemas.course import Course

Floats = NDArray[np.float64]
Player = tuple[DrivePattern, SpeedScale]
"""A pattern now, and how distance follows speed around it."""

WIDEST_SCATTER_DEG = 20.0
LARGEST_SPEED_LOSS_MPS = 25.0
_ROUNDS = 7


def scatter_price_deg(players: Sequence[Player], course: Course, standard: str, speed_gain_mps: float) -> list[float | None]:
    """Degrees of direction scatter that a gain of club speed [m/s] may cost until strokes are even, for each player.

    Parameters
    ----------
    players : sequence of (DrivePattern, SpeedScale)
        Each player now.
    course, standard : Course, str
    speed_gain_mps : float
        Gain of club speed, positive [m/s].

    Returns
    -------
    list of float or None
        Added standard deviation of direction [°]; None when even 20° would not use up the gain.

    Notes
    -----
    Root of ``E(speed + gain, scatter + x) = E(speed, scatter)`` by false position, to about 0.01°. Source: [Broadie2012].
    Checked: tests/published/test_strokes.py, tests/property/test_tradeoff.py.
    """

    def moved(extra: Floats) -> list[DrivePattern]:
        return [
            at_speed(pattern, scale, scale.club_speed_mps + speed_gain_mps, pattern.direction_sd_deg + float(more))
            for (pattern, scale), more in zip(players, extra, strict=True)
        ]

    return _roots(players, moved, course, standard, WIDEST_SCATTER_DEG)


def speed_price_mps(players: Sequence[Player], course: Course, standard: str, scatter_gain_deg: float) -> list[float | None]:
    """Club speed [m/s] that may be given up for less direction scatter [°] until strokes are even, for each player.

    Parameters
    ----------
    players : sequence of (DrivePattern, SpeedScale)
        Each player now.
    course, standard : Course, str
    scatter_gain_deg : float
        Reduction of the standard deviation of direction, positive [°]; never below a tenth of the scatter itself.

    Returns
    -------
    list of float or None
        Speed given up [m/s]; None when even 25 m/s would not use up the gain.

    Notes
    -----
    Root of ``E(speed - x, scatter - gain) = E(speed, scatter)`` by false position, to about 0.01 m/s. Source: [Broadie2012].
    Checked: tests/property/test_tradeoff.py.
    """

    def moved(slower: Floats) -> list[DrivePattern]:
        return [
            at_speed(pattern, scale, scale.club_speed_mps - float(less), _steadier(pattern, scatter_gain_deg))
            for (pattern, scale), less in zip(players, slower, strict=True)
        ]

    return _roots(players, moved, course, standard, LARGEST_SPEED_LOSS_MPS)


def _steadier(pattern: DrivePattern, gain_deg: float) -> float:
    return max(pattern.direction_sd_deg - gain_deg, 0.1 * pattern.direction_sd_deg)


def _roots(
    players: Sequence[Player],
    moved: Callable[[Floats], list[DrivePattern]],
    course: Course,
    standard: str,
    widest: float,
) -> list[float | None]:
    def strokes(patterns: Sequence[DrivePattern]) -> Floats:
        return round_strokes(patterns, course, standard)

    now = strokes([pattern for pattern, _ in players])
    low, high = np.zeros(len(players)), np.full(len(players), widest)
    cost_low, cost_high = strokes(moved(low)) - now, strokes(moved(high)) - now
    reached = (cost_high > 0.0) & (cost_low <= 0.0)
    kept = np.zeros(len(players))
    middle = low
    for _ in range(_ROUNDS):
        # false position that halves the weight of an end which stays twice (Illinois): a smooth cost needs few rounds
        span = np.where(reached, cost_high - cost_low, 1.0)
        middle = np.where(reached, high - cost_high * (high - low) / span, 0.0)
        cost = strokes(moved(middle)) - now
        cheap = cost <= 0.0
        cost_high = np.where(cheap, np.where(kept > 0, 0.5 * cost_high, cost_high), cost)
        cost_low = np.where(cheap, cost, np.where(kept < 0, 0.5 * cost_low, cost_low))
        low, high = np.where(cheap, middle, low), np.where(cheap, high, middle)
        kept = np.where(cheap, 1.0, -1.0)
    return [float(value) if found else None for value, found in zip(middle, reached, strict=True)]
