"""A course, worked out once for many patterns: its borders between zones side by side, and how they belong to its holes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.strokes.zones import OUT, ZONES, Layout, ZoneStrokes, course_layouts, zone_strokes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from schemas.course import Course

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class Borders:
    """Borders of all holes, one hole behind the other: shape (b,); ``begins`` (h,) is the first one of each hole.

    Of each the hole, where it stands among the course's edges and among those of its layout, and the zones at its left and right;
    ``last`` (h,) is the zone beyond the last one of a hole.
    """

    hole: Integers
    begins: Integers
    edge: Integers
    of_layout: Integers
    left: Integers
    right: Integers
    last: Integers


@dataclass(frozen=True)
class OutOfBounds:
    """Borders of out of bounds, one layout that has it behind the other: shape (o,); ``begins`` and ``last`` have shape (l,).

    ``sign`` is 1 where it lies left of the border and -1 where right; ``last`` is 1 where it lies beyond the last border.
    ``holes`` are those that have it, ``row_of_hole`` which of the layouts each has.
    """

    row: Integers
    begins: Integers
    edge: Integers
    of_layout: Integers
    sign: Floats
    last: Floats
    holes: Integers
    row_of_hole: Integers


@dataclass(frozen=True)
class Parts:
    """Zones of all holes, one hole behind the other: shape (b + h,).

    Each reaches from the border ``lower`` to ``upper``, places among those of all holes; behind these stands a border of which
    nothing lies left, and one of which all does. ``by_zone``, (b + h, 5), is 1 where a part is of a zone.
    """

    hole: Integers
    zone: Integers
    lower: Integers
    upper: Integers
    by_zone: Floats


@dataclass(frozen=True)
class Ground:
    """A course for a standard of player.

    Attributes
    ----------
    lengths_m : numpy.ndarray
        Shape (h,): of the holes.
    values : ZoneStrokes
    edges_m : numpy.ndarray
        Shape (k,): all borders between zones that occur, metres right of the middle of the fairway.
    layout_edge : numpy.ndarray
        Borders of all layouts, one behind the other, shape (m,): which of the edges each is.
    mean_aim : numpy.ndarray
        Shape (h, m): what the aims of the holes count in the mean of the layout of each of these borders.
    borders : Borders
    out : OutOfBounds
    parts : Parts
    """

    lengths_m: Floats
    values: ZoneStrokes
    edges_m: Floats
    layout_edge: Integers
    mean_aim: Floats
    borders: Borders
    out: OutOfBounds
    parts: Parts


@lru_cache(maxsize=64)
def course_ground(course: Course, standard: str) -> Ground:
    """The ground of a course for a standard of player (tour, scratch, 80, 90 or 100)."""
    layouts, lengths = course_layouts(course), np.array([shot.length_m for shot in course.tee_shots])
    edges = np.unique(np.concatenate([layout.edges_m for layout in layouts]))
    sizes = [layout.edges_m.size for layout in layouts]
    begins = np.concatenate([[0], np.cumsum(sizes)])
    layout_edge = np.concatenate([np.searchsorted(edges, layout.edges_m) for layout in layouts])
    mean_aim = np.zeros((lengths.size, layout_edge.size))
    for layout, begin, size in zip(layouts, begins, sizes, strict=False):
        mean_aim[list(layout.holes), begin : begin + size] = 1.0 / len(layout.holes)
    borders = _borders(layouts, begins, layout_edge, lengths.size)
    return Ground(
        lengths_m=lengths,
        values=zone_strokes(standard, course.trees_blocked_share),
        edges_m=edges,
        layout_edge=layout_edge,
        mean_aim=mean_aim,
        borders=borders,
        out=_out_of_bounds(layouts, begins, layout_edge),
        parts=_parts(borders),
    )


def _borders(layouts: Sequence[Layout], begins: Integers, layout_edge: Integers, n_holes: int) -> Borders:
    layout_of = {hole: number for number, layout in enumerate(layouts) for hole in layout.holes}
    own = [layout_of[hole] for hole in range(n_holes)]
    sizes = [layouts[number].edges_m.size for number in own]
    of_layout = np.concatenate([np.arange(begins[number], begins[number + 1]) for number in own])
    return Borders(
        hole=np.repeat(np.arange(n_holes), sizes),
        begins=np.cumsum([0, *sizes[:-1]]),
        edge=layout_edge[of_layout],
        of_layout=of_layout,
        left=np.concatenate([layouts[number].zones[:-1] for number in own]),
        right=np.concatenate([layouts[number].zones[1:] for number in own]),
        last=np.array([layouts[number].zones[-1] for number in own]),
    )


def _out_of_bounds(layouts: Sequence[Layout], begins: Integers, layout_edge: Integers) -> OutOfBounds:
    having = [number for number, layout in enumerate(layouts) if OUT in layout.zones]
    signs = [np.diff(-(np.array(layouts[number].zones) == OUT).astype(np.float64)) for number in having]
    places = [np.flatnonzero(sign) for sign in signs]
    of_layout = np.array(
        [begins[number] + place for number, some in zip(having, places, strict=True) for place in some], dtype=int
    )
    holes = [(hole, row) for row, number in enumerate(having) for hole in layouts[number].holes]
    counts = [place.size for place in places]
    return OutOfBounds(
        row=np.repeat(np.arange(len(having)), counts),
        begins=np.cumsum([0, *counts])[:-1],
        edge=layout_edge[of_layout],
        of_layout=of_layout,
        sign=np.array([sign[place] for sign, some in zip(signs, places, strict=True) for place in some]),
        last=np.array([float(layouts[number].zones[-1] == OUT) for number in having]),
        holes=np.array([hole for hole, _ in holes], dtype=int),
        row_of_hole=np.array([row for _, row in holes], dtype=int),
    )


def _parts(borders: Borders) -> Parts:
    n_borders, n_holes = borders.hole.size, borders.last.size
    hole = np.concatenate([borders.hole, np.arange(n_holes)])
    zone = np.concatenate([borders.left, borders.last])
    lower, upper = np.arange(n_borders) - 1, np.arange(n_borders)
    lower[borders.begins] = n_borders
    lasts = np.append(borders.begins[1:], n_borders) - 1
    return Parts(
        hole=hole,
        zone=zone,
        lower=np.concatenate([lower, lasts]),
        upper=np.concatenate([upper, np.full(n_holes, n_borders + 1)]),
        by_zone=(zone[:, None] == np.arange(len(ZONES))).astype(np.float64),
    )
