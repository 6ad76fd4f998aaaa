"""Break-even between club speed and scatter: what a gain of one may cost of the other on a course."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from pipelines.measures.strokes import DrivePattern, expected_strokes
from pipelines.measures.tradeoff.surface import SpeedScale, at_speed

if TYPE_CHECKING:
    from schemas.course import Course

WIDEST_SCATTER_DEG = 20.0
LARGEST_SPEED_LOSS_MPS = 25.0
_ROUNDS = 18


def scatter_price_deg(
    pattern: DrivePattern, scale: SpeedScale, course: Course, standard: str, speed_gain_mps: float
) -> float | None:
    """Degrees of direction scatter that a gain of club speed [m/s] may cost until strokes are even.

    Parameters
    ----------
    pattern, scale : DrivePattern, SpeedScale
        The player now.
    course, standard : Course, str
    speed_gain_mps : float
        Gain of club speed, positive [m/s].

    Returns
    -------
    float or None
        Added standard deviation of direction [°]; None when even 20° would not use up the gain.

    Notes
    -----
    Bisection of ``E(speed + gain, scatter + x) = E(speed, scatter)`` to 1e-4°. Source: [Broadie2012].
    Checked: tests/published/test_strokes.py, tests/property/test_tradeoff.py.
    """
    now = _strokes(pattern, course, standard)
    faster = scale.club_speed_mps + speed_gain_mps

    def cost(extra: float) -> float:
        moved = at_speed(pattern, scale, faster, pattern.direction_sd_deg + extra)
        return _strokes(moved, course, standard) - now

    return _root(cost, WIDEST_SCATTER_DEG)


def speed_price_mps(
    pattern: DrivePattern, scale: SpeedScale, course: Course, standard: str, scatter_gain_deg: float
) -> float | None:
    """Club speed [m/s] that may be given up for less direction scatter [°] until strokes are even.

    Parameters
    ----------
    pattern, scale : DrivePattern, SpeedScale
        The player now.
    course, standard : Course, str
    scatter_gain_deg : float
        Reduction of the standard deviation of direction, positive [°].

    Returns
    -------
    float or None
        Speed given up [m/s]; None when the reduction is not smaller than the scatter itself, or even 25 m/s would not use
        it up.

    Notes
    -----
    Bisection of ``E(speed - x, scatter - gain) = E(speed, scatter)``. Source: [Broadie2012].
    Checked: tests/property/test_tradeoff.py.
    """
    if scatter_gain_deg >= pattern.direction_sd_deg:
        return None
    now = _strokes(pattern, course, standard)
    steadier = pattern.direction_sd_deg - scatter_gain_deg

    def cost(slower: float) -> float:
        moved = at_speed(pattern, scale, scale.club_speed_mps - slower, steadier)
        return _strokes(moved, course, standard) - now

    return _root(cost, LARGEST_SPEED_LOSS_MPS)


def _strokes(pattern: DrivePattern, course: Course, standard: str) -> float:
    return expected_strokes(pattern, course, standard).per_round


def _root(cost: Callable[[float], float], widest: float) -> float | None:
    if cost(widest) <= 0.0:
        return None
    low, high = 0.0, widest
    for _ in range(_ROUNDS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if cost(middle) <= 0.0 else (low, middle)
    return 0.5 * (low + high)
