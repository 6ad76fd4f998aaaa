"""What a shot that lands at a given place costs on a course: a grid that is quick to look up many times."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.strokes import DrivePattern, expected_strokes
from pipelines.measures.strokes.zones import course_layouts, zone_strokes

if TYPE_CHECKING:
    from schemas.course import Course

Floats = NDArray[np.float64]

CARRY_STEP_M, OFFLINE_STEP_M = 4.0, 2.0
SHORTEST_M, LONGEST_M, WIDEST_M = 20.0, 360.0, 120.0


@dataclass(frozen=True)
class CostGrid:
    """Strokes to hole out, the tee shot included, by landing place.

    Attributes
    ----------
    values : array (c, o)
        Carry from 20 to 360 m by 4 m; offline from -120 to 120 m by 2 m. Beyond the edges the edge counts.
    """

    values: Floats

    def at(self, carry_m: Floats, offline_m: Floats) -> Floats:
        """Strokes at places, any shape: linear between the points of the grid."""
        rows, columns = self.values.shape
        x = np.clip((carry_m - SHORTEST_M) / CARRY_STEP_M, 0.0, rows - 1.001)
        y = np.clip((offline_m + WIDEST_M) / OFFLINE_STEP_M, 0.0, columns - 1.001)
        i, j = x.astype(np.intp), y.astype(np.intp)
        fx, fy = x - i, y - j
        flat, at = self.values.ravel(), i * columns + j
        near = flat[at] * (1 - fy) + flat[at + 1] * fy
        far = flat[at + columns] * (1 - fy) + flat[at + columns + 1] * fy
        return np.asarray(near * (1 - fx) + far * fx)


def landing_axes() -> tuple[Floats, Floats]:
    """Carry [m] down and offline [m] across of every cost grid, shapes (n, 1) and (1, m)."""
    carry = np.arange(SHORTEST_M, LONGEST_M + 1, CARRY_STEP_M)
    offline = np.arange(-WIDEST_M, WIDEST_M + 1, OFFLINE_STEP_M)
    return carry[:, None], offline[None, :]


class CostModel(Protocol):
    """What turns a pattern into strokes."""

    @property
    def tee_shots(self) -> int:
        """Tee shots in a round."""

    def grid(self, carry_m: float, carry_sd_m: float, offline_sd_m: float, mishit_rate: float) -> CostGrid:
        """Cost by landing place around the pattern's middle, for the best aim of such a pattern."""


@dataclass(frozen=True)
class CourseCost:
    """Cost on a course for a standard of player, every tee shot at the best aim for the pattern.

    Attributes
    ----------
    course : Course
    standard : str
    run_m : float
        Bounce and run added to carry [m].
    """

    course: Course
    standard: str = "80"
    run_m: float = 20.0

    @property
    def tee_shots(self) -> int:
        """Tee shots in a round."""
        return len(self.course.tee_shots)

    def grid(self, carry_m: float, carry_sd_m: float, offline_sd_m: float, mishit_rate: float) -> CostGrid:
        """Cost by landing place for the best aims of this pattern; patterns are rounded so that grids can be kept."""
        degrees = float(np.degrees(offline_sd_m / max(carry_m, 50.0)))
        rounded = (round(carry_m / 5) * 5.0, max(round(carry_sd_m / 2), 1) * 2.0, max(round(degrees * 4), 1) / 4)
        return _course_grid(self.course, self.standard, self.run_m, *rounded, round(mishit_rate * 20) / 20)


@lru_cache(maxsize=512)
def _course_grid(
    course: Course, standard: str, run_m: float, carry_m: float, carry_sd_m: float, direction_sd_deg: float, mishit_rate: float
) -> CostGrid:
    """Mean over the tee shots of the strokes from each landing place, every tee shot at its own aim.

    Notes
    -----
    Out of bounds costs two strokes and the same tee shot again, worth the mean of the pattern.
    Source: [Broadie2012]. Checked: tests/unit/test_trial_strokes.py
    """
    pattern = DrivePattern(carry_m + run_m, 0.0, carry_sd_m, direction_sd_deg, mishit_rate=mishit_rate)
    found = expected_strokes(pattern, course, standard)
    carry, offline = landing_axes()
    total = carry + run_m
    by_zone = zone_strokes(standard, course.trees_blocked_share)
    strokes = np.zeros((carry.size, offline.size))
    for layout in course_layouts(course):
        for hole in layout.holes:
            aimed = offline * total / carry + total * np.tan(np.radians(found.aim_deg[hole]))
            zone = np.asarray(layout.zones)[np.searchsorted(layout.edges_m, aimed)]
            left = np.abs(course.tee_shots[hole].length_m - total)
            costs = np.concatenate([by_zone.at(left), np.full((1, *left.shape), 2.0 + found.per_tee_shot)])
            strokes += costs[zone, np.arange(carry.size)[:, None], 0]
    return CostGrid(strokes / len(course.tee_shots))
