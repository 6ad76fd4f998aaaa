"""Strokes over club speed and scatter: the surface of the trade-off map, its lines of equal strokes, and break-even."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.strokes import DrivePattern, map_strokes

if TYPE_CHECKING:
    from schemas.course import Course

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class SpeedScale:
    """How a player's distance follows club speed, near one point.

    Attributes
    ----------
    club_speed_mps : float
        Club speed at which the pattern was measured [m/s].
    total_m_per_mps : float
        Metres of total distance per m/s.
    """

    club_speed_mps: float
    total_m_per_mps: float


@dataclass(frozen=True)
class Surface:
    """Strokes per round over a grid of club speed and direction scatter.

    Attributes
    ----------
    club_speed_mps : numpy.ndarray
        Shape (s,), ascending.
    scatter_deg : numpy.ndarray
        Shape (t,), ascending: standard deviation of direction.
    strokes : numpy.ndarray
        Shape (s, t): strokes of all tee shots of the course, at the best aim.
    """

    club_speed_mps: Floats
    scatter_deg: Floats
    strokes: Floats

    def at(self, club_speed_mps: float, scatter_deg: float) -> float | None:
        """Strokes at one point, bilinear; None outside the grid."""
        inside = (
            self.club_speed_mps[0] <= club_speed_mps <= self.club_speed_mps[-1]
            and self.scatter_deg[0] <= scatter_deg <= self.scatter_deg[-1]
        )
        if not inside:
            return None
        by_speed = np.array([np.interp(scatter_deg, self.scatter_deg, row) for row in self.strokes])
        return float(np.interp(club_speed_mps, self.club_speed_mps, by_speed))


def at_speed(pattern: DrivePattern, scale: SpeedScale, club_speed_mps: float, scatter_deg: float) -> DrivePattern:
    """The pattern at another club speed [m/s] and direction scatter [°]; long-short spread grows with distance."""
    total = max(pattern.total_m + (club_speed_mps - scale.club_speed_mps) * scale.total_m_per_mps, 60.0)
    return replace(
        pattern,
        total_m=total,
        total_sd_m=pattern.total_sd_m * total / pattern.total_m,
        direction_sd_deg=scatter_deg,
    )


def surface(
    pattern: DrivePattern,
    scale: SpeedScale,
    course: Course,
    standard: str,
    club_speed_mps: Floats,
    scatter_deg: Floats,
) -> Surface:
    """Strokes of a player's drives over a grid of club speed and scatter.

    Parameters
    ----------
    pattern, scale : DrivePattern, SpeedScale
        The player now, and what speed is worth in metres.
    course, standard : Course, str
        Where, and whose strokes follow the drive.
    club_speed_mps, scatter_deg : numpy.ndarray
        Shapes (s,) and (t,), ascending [m/s], [°].

    Returns
    -------
    Surface

    Notes
    -----
    Mishit rate and the shape of the pattern are held. Source: [Broadie2012]. Checked: tests/property/test_tradeoff.py.
    """
    patterns = [at_speed(pattern, scale, float(speed), pattern.direction_sd_deg) for speed in club_speed_mps]
    return Surface(club_speed_mps, scatter_deg, map_strokes(patterns, scatter_deg, course, standard))


@dataclass(frozen=True)
class StrokeLine:
    """One line of equal strokes.

    Attributes
    ----------
    strokes : float
        Strokes per round on the line, against the reference point of the map (0 goes through it).
    club_speed_mps, scatter_deg : numpy.ndarray
        Points of the line, ascending in speed.
    """

    strokes: float
    club_speed_mps: Floats
    scatter_deg: Floats


def stroke_lines(field: Surface, reference: float, steps: Floats) -> list[StrokeLine]:
    """Lines of equal strokes at ``reference + step`` for each step, where the grid holds them.

    Notes
    -----
    Strokes do not fall with scatter (the surface is made non-decreasing along it first, against rounding), so for each speed
    there is one scatter per level, found by linear interpolation. Checked: tests/property/test_tradeoff.py.
    """
    rising = np.maximum.accumulate(field.strokes, axis=1)
    lines = []
    for step in steps:
        level = reference + float(step)
        inside = (rising[:, 0] <= level) & (level <= rising[:, -1])
        scatter = np.array([np.interp(level, row, field.scatter_deg) for row in rising[inside]])
        if scatter.size >= 2:
            lines.append(StrokeLine(float(step), field.club_speed_mps[inside], scatter))
    return lines
