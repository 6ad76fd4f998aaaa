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
Integers = NDArray[np.int64]
Player = tuple[DrivePattern, SpeedScale]
"""A pattern now, and how distance follows speed around it."""

WIDEST_SCATTER_DEG = 20.0
LARGEST_SPEED_LOSS_MPS = 25.0
_NEAR = 0.125
"""Share of the widest within which nearly all prices lie: it is tried first."""
_CLOSE_ENOUGH = 2e-3
"""A price that the last round moved by no more than this is told [° or m/s]."""
_ROUNDS = 12


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
    Root of ``E(speed + gain, scatter + x) = E(speed, scatter)`` by false position, to 0.002°. Source: [Broadie2012].
    Checked: tests/published/test_strokes.py, tests/property/test_tradeoff.py.
    """

    def moved(extra: Floats, some: Sequence[Player]) -> list[DrivePattern]:
        return [
            at_speed(pattern, scale, scale.club_speed_mps + speed_gain_mps, pattern.direction_sd_deg + float(more))
            for (pattern, scale), more in zip(some, extra, strict=True)
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
    Root of ``E(speed - x, scatter - gain) = E(speed, scatter)`` by false position, to 0.002 m/s. Source: [Broadie2012].
    Checked: tests/property/test_tradeoff.py.
    """

    def moved(slower: Floats, some: Sequence[Player]) -> list[DrivePattern]:
        return [
            at_speed(pattern, scale, scale.club_speed_mps - float(less), _steadier(pattern, scatter_gain_deg))
            for (pattern, scale), less in zip(some, slower, strict=True)
        ]

    return _roots(players, moved, course, standard, LARGEST_SPEED_LOSS_MPS)


def _steadier(pattern: DrivePattern, gain_deg: float) -> float:
    return max(pattern.direction_sd_deg - gain_deg, 0.1 * pattern.direction_sd_deg)


def _roots(
    players: Sequence[Player],
    moved: Callable[[Floats, Sequence[Player]], list[DrivePattern]],
    course: Course,
    standard: str,
    widest: float,
) -> list[float | None]:
    now = round_strokes([pattern for pattern, _ in players], course, standard)

    def cost(at: Floats, some: Integers) -> Floats:
        return round_strokes(moved(at, [players[one] for one in some]), course, standard) - now[some]

    every = np.arange(len(players))
    low, high, middle = np.zeros(len(players)), np.full(len(players), widest * _NEAR), np.zeros(len(players))
    cost_low, cost_high = cost(low, every), cost(high, every)
    further = np.flatnonzero((cost_high <= 0.0) & (cost_low <= 0.0))
    high[further] = widest
    cost_high[further] = cost(high[further], further)
    reached = (cost_high > 0.0) & (cost_low <= 0.0)
    kept, left = np.zeros(len(players)), np.flatnonzero(reached)
    for _ in range(_ROUNDS):
        if not left.size:
            break
        # false position that halves the weight of an end which stays twice (Illinois): a smooth cost needs few rounds
        ends, costs = (low[left], high[left]), (cost_low[left], cost_high[left])
        tried = ends[1] - costs[1] * (ends[1] - ends[0]) / (costs[1] - costs[0])
        found, stayed = cost(tried, left), kept[left]
        cheap = found <= 0.0
        cost_high[left] = np.where(cheap, np.where(stayed > 0, 0.5 * costs[1], costs[1]), found)
        cost_low[left] = np.where(cheap, found, np.where(stayed < 0, 0.5 * costs[0], costs[0]))
        low[left], high[left] = np.where(cheap, tried, ends[0]), np.where(cheap, ends[1], tried)
        kept[left], step = np.where(cheap, 1.0, -1.0), np.abs(tried - middle[left])
        middle[left] = tried
        left = left[step > _CLOSE_ENOUGH]
    return [float(value) if found else None for value, found in zip(middle, reached, strict=True)]
