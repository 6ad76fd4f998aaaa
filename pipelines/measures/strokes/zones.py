"""A course as zones across the line of play: the same layout of zones is worked out once for all holes that share it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.strokes.baseline import strokes_to_hole_out

if TYPE_CHECKING:
    from schemas.course import Course, Side, TeeShot

Floats = NDArray[np.float64]

FAIRWAY, ROUGH, TREES, WATER, OUT = range(5)
ZONES: tuple[str, ...] = ("fairway", "rough", "trees", "water", "out_of_bounds")
_LONGEST_M = 900


@dataclass(frozen=True)
class Layout:
    """Zones across the line of play that several holes share.

    Attributes
    ----------
    edges_m : numpy.ndarray
        Shape (k,), ascending: borders between zones, right of the middle is positive [m].
    zones : tuple of int
        k + 1 zone codes from far left to far right.
    holes : tuple of int
        Positions of the tee shots that have this layout.
    """

    edges_m: Floats
    zones: tuple[int, ...]
    holes: tuple[int, ...]


def course_layouts(course: Course) -> tuple[Layout, ...]:
    """The distinct layouts of a course, in order of their first hole."""
    found: dict[tuple[float, Side, Side], list[int]] = {}
    for number, shot in enumerate(course.tee_shots):
        found.setdefault((shot.fairway_m, shot.left, shot.right), []).append(number)
    return tuple(_layout(course.tee_shots[holes[0]], tuple(holes)) for holes in found.values())


def _layout(shot: TeeShot, holes: tuple[int, ...]) -> Layout:
    left, right = _side_zones(shot.left), _side_zones(shot.right)
    half = shot.fairway_m / 2.0
    edges = [-half - start for start, _ in reversed(left)] + [half + start for start, _ in right]
    zones = [zone for _, zone in reversed(left)] + [FAIRWAY] + [zone for _, zone in right]
    return Layout(np.array(edges), tuple(zones), holes)


def _side_zones(side: Side) -> list[tuple[float, int]]:
    starts = ((side.trees_from_m, TREES), (side.water_from_m, WATER), (side.out_of_bounds_from_m, OUT))
    zones = sorted((start, zone) for start, zone in starts if start is not None)
    if not zones or zones[0][0] > 0.0:
        zones.insert(0, (0.0, ROUGH))
    return zones


@dataclass(frozen=True)
class ZoneStrokes:
    """Strokes from the tee shot on, by metres left to the hole and by zone, for one standard of player.

    Attributes
    ----------
    by_metre : numpy.ndarray
        Shape (4, 901): fairway, rough, trees, water at 0, 1, 2 ... m left; the tee shot itself and any penalty are in it.
        Out of bounds is not: it costs two strokes and the same tee shot again.
    """

    by_metre: Floats

    def at(self, left_m: Floats, out: Floats | None = None) -> Floats:
        """Strokes, shape (4, ...), for distances left [m] of shape (...): linear between metres; put into ``out`` if given."""
        place = np.clip(left_m, 0.0, _LONGEST_M - 1.0)
        metre = place.astype(np.intp)
        share, strokes = place - metre, np.empty((len(self.by_metre), *place.shape)) if out is None else out
        for of_zone, found in zip(self.by_metre, strokes, strict=True):  # a table at a time stays in the processor's cache
            low = of_zone.take(metre)
            np.subtract(of_zone.take(metre + 1), low, out=found)
            np.multiply(found, share, out=found)
            np.add(found, low, out=found)
        return strokes


def zone_strokes(standard: str, trees_blocked_share: float) -> ZoneStrokes:
    """Strokes by zone for a standard of player.

    Notes
    -----
    Fairway and rough: one stroke and the baseline from there. Trees: the blocked share plays from recovery, the rest from
    rough. Water: one penalty stroke more, dropped in the rough at the same distance. Source: [Broadie2012].
    Checked: tests/published/test_strokes.py.
    """
    left_m = np.arange(_LONGEST_M + 1, dtype=np.float64)
    fairway = 1.0 + strokes_to_hole_out(left_m, "fairway", standard)
    rough = 1.0 + strokes_to_hole_out(left_m, "rough", standard)
    recovery = 1.0 + strokes_to_hole_out(left_m, "recovery", standard)
    trees = trees_blocked_share * recovery + (1.0 - trees_blocked_share) * rough
    return ZoneStrokes(np.stack([fairway, rough, trees, rough + 1.0]))
