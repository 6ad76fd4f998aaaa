"""Expected strokes of a drive pattern on a course, at the best aim, split into distance and trouble.

:func:`expected_strokes` is for one pattern; :func:`course_strokes` for many at once (what the night, the trade-off map and the
trials use). Distance is integrated over low-discrepancy points, direction exactly through the distribution function, so
the result is smooth in every figure of the pattern.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, lru_cache
from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pipelines.measures.scatter.tails import sd_over_core
from pipelines.measures.strokes.directions import Distribution, distribution, tabled
from pipelines.measures.strokes.pattern import DrivePattern, PatternError, PatternStrokes
from pipelines.measures.strokes.zones import FAIRWAY, OUT, ZONES, Layout, ZoneStrokes, course_layouts, zone_strokes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from schemas.course import Course

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

AIMS_DEG: Floats = np.linspace(-6.0, 6.0, 17)
CORE_POINTS = 16
MISHIT_POINTS = 4
SHORTEST_M = 15.0
BATCH = 16
"""Patterns at a time: what belongs to them stays in the processor's cache."""


def expected_strokes(
    pattern: DrivePattern, course: Course, standard: str = "80", error: PatternError | None = None
) -> PatternStrokes:
    """Expected strokes of one pattern on a course; see :func:`course_strokes`."""
    return course_strokes([pattern], course, standard, None if error is None else [error])[0]


def course_strokes(
    patterns: Sequence[DrivePattern],
    course: Course,
    standard: str = "80",
    errors: Sequence[PatternError] | None = None,
) -> list[PatternStrokes]:
    """Expected strokes of every pattern on a course, at the best aim for each tee shot.

    Parameters
    ----------
    patterns : sequence of DrivePattern
        Each with its own tails.
    course : Course
        Tee shots and what lies beside them.
    standard : str
        Whose strokes follow the drive: tour, scratch, 80, 90 or 100.
    errors : sequence of PatternError, optional
        One per pattern; gives standard errors by the delta method at the best aim.

    Returns
    -------
    list of PatternStrokes
        In the order of the patterns.

    Raises
    ------
    ValueError
        When there are not as many errors as patterns.

    Notes
    -----
    ``E = sum_x w(x) sum_zone P(zone | x, aim) V(zone, length - x)``; out of bounds costs two strokes and the same tee shot
    again, so ``E = (A + 2 p)/(1 - p)``. The distances x are low-discrepancy points of the core (16) and of the mishits (4);
    given a distance, direction is the sum of a narrow and a wide normal part. Aims are searched every three quarters
    of a degree within 6°. Against 400 points and an eighth of a degree a round differs by 0.04 at most. Valid for drives; a
    hole that is driven is valued as 9 m from the hole. Source: [Broadie2012],
    [Ko2012]. Checked: tests/published/test_strokes.py, tests/property/test_strokes.py.
    """
    if errors is not None and len(errors) != len(patterns):
        raise ValueError("give one error for each pattern")
    ground, columns = _ground(course, standard), _columns(patterns)
    found: list[PatternStrokes] = []
    for batch in _batches(columns, BATCH):
        found += _best(_nodes(batch), ground)
    return found if errors is None else _with_errors(columns, errors, found, ground)


def round_strokes(patterns: Sequence[DrivePattern], course: Course, standard: str = "80") -> Floats:
    """Strokes of a round for every pattern, at the best aim for each tee shot: ``per_round`` of :func:`course_strokes` alone.

    Parameters
    ----------
    patterns, course, standard
        As for :func:`course_strokes`.

    Returns
    -------
    numpy.ndarray
        Shape (len(patterns),).

    Notes
    -----
    Source: [Broadie2012]. Checked: tests/property/test_strokes.py.
    """
    return _rounds(_columns(patterns), _ground(course, standard), distribution)


def map_strokes(patterns: Sequence[DrivePattern], course: Course, standard: str = "80") -> Floats:
    """The same as :func:`round_strokes`, in half the time, of the very many patterns of a map, which share their tails.

    Parameters
    ----------
    patterns, course, standard
        As for :func:`course_strokes`; patterns of one share of wide shots.

    Returns
    -------
    numpy.ndarray
        Shape (len(patterns),); within 1e-9 of those of :func:`round_strokes`.

    Raises
    ------
    ValueError
        When the patterns differ in their share of wide shots.

    Notes
    -----
    Source: [Broadie2012]. Checked: tests/property/test_strokes.py.
    """
    tails = {pattern.tail_share for pattern in patterns}
    if len(tails) > 1:
        raise ValueError("patterns of a map share their tails")
    shares = tabled(tails.pop()) if tails else distribution
    return _rounds(_columns(patterns), _ground(course, standard), shares)


def _rounds(columns: Columns, ground: _Ground, shares: Distribution) -> Floats:
    parts = [_by_aim(_nodes(batch), ground, shares)[0].min(axis=1) for batch in _batches(columns, BATCH)]
    return np.concatenate([one.sum(axis=1) for one in parts]) if parts else np.empty(0)


@dataclass(frozen=True)
class _Ground:
    """A course, worked out once: layouts, all borders between zones that occur, and where in them each layout's own stand."""

    layouts: tuple[Layout, ...]
    edges_m: Floats
    places: tuple[Integers, ...]
    values: ZoneStrokes
    lengths: Floats


@lru_cache(maxsize=64)
def _ground(course: Course, standard: str) -> _Ground:
    layouts = course_layouts(course)
    edges = np.unique(np.concatenate([layout.edges_m for layout in layouts]))
    places = tuple(np.searchsorted(edges, layout.edges_m) for layout in layouts)
    lengths = np.array([shot.length_m for shot in course.tee_shots])
    return _Ground(layouts, edges, places, zone_strokes(standard, course.trees_blocked_share), lengths)


@dataclass(frozen=True)
class _Nodes:
    """Distances of a batch of patterns with weight, middle and narrow width of direction at each: shape (p, n); tails: (p, 1)."""

    total_m: Floats
    weight: Floats
    middle_deg: Floats
    scale_deg: Floats
    tail_share: Floats


@cache
def _quantiles() -> tuple[Floats, Floats, Floats, Floats]:
    """Standard distances of core and mishits with their weights."""
    core, core_weight = _low_discrepancy(CORE_POINTS)
    mishit, mishit_weight = _low_discrepancy(MISHIT_POINTS)
    return ndtri(core), core_weight, ndtri(mishit), mishit_weight


def _low_discrepancy(count: int) -> tuple[Floats, Floats]:
    """Even points in 0 to 1, drawn toward both ends by ``3 s² - 2 s³`` so that few of them do for the tails."""
    s = (np.arange(count) + 0.5) / count
    weight = 6.0 * s * (1.0 - s)
    return s * s * (3.0 - 2.0 * s), weight / weight.sum()


Columns = dict[str, Floats]
"""Patterns side by side: by attribute, shape (p, 1)."""

_ATTRIBUTES = tuple(name for name in DrivePattern.__dataclass_fields__ if name != "direction_deg")


def _columns(patterns: Sequence[DrivePattern]) -> Columns:
    table = np.array([_told(pattern) for pattern in patterns], dtype=np.float64).reshape(len(patterns), len(_ATTRIBUTES))
    return dict(zip(_ATTRIBUTES, table.T[:, :, None], strict=True))


_told = attrgetter(*_ATTRIBUTES)


def _batches(columns: Columns, size: int) -> Iterator[Columns]:
    for start in range(0, columns["total_m"].size, size):
        yield {name: column[start : start + size] for name, column in columns.items()}


def _nodes(column: Columns) -> _Nodes:
    z, core_weight, mishit_z, mishit_weight = _quantiles()
    core_total = column["total_m"] + column["total_sd_m"] * z
    direction_scale = column["direction_sd_deg"] / sd_over_core(column["tail_share"])
    residual = np.sqrt(1.0 - column["correlation"] ** 2)
    mishit_total = column["total_m"] * (column["mishit_total_share"] + column["mishit_total_sd_share"] * mishit_z)
    mishit_scale = column["mishit_direction_factor"] * direction_scale * np.ones_like(mishit_z)
    rate = column["mishit_rate"]
    return _Nodes(
        total_m=np.maximum(np.hstack([core_total, mishit_total]), SHORTEST_M),
        weight=np.hstack([(1.0 - rate) * core_weight, rate * mishit_weight]),
        middle_deg=np.hstack([column["correlation"] * direction_scale * z, np.zeros_like(mishit_total)]),
        scale_deg=np.hstack([direction_scale * residual * np.ones_like(z), mishit_scale]),
        tail_share=column["tail_share"],
    )


def _below(nodes: _Nodes, edges_m: Floats, aims_deg: Floats, shares: Distribution = distribution) -> Floats:
    """Share of drives left of each border: shape (p, a, n, k); ``aims_deg`` has shape (p or 1, a)."""
    inverse = 1.0 / nodes.scale_deg
    borders = (np.degrees(np.arctan(edges_m / nodes.total_m[:, :, None])) - nodes.middle_deg[:, :, None]) * inverse[:, :, None]
    aims = aims_deg[:, :, None] * inverse[:, None]
    return shares(borders[:, None] - aims[..., None], nodes.tail_share[:, :, None, None])


def _values(nodes: _Nodes, ground: _Ground) -> Floats:
    """Strokes by hole, node and kind of zone: shape (p, h, n, 5); out of bounds holds its two strokes."""
    left = ground.lengths[None, :, None] - nodes.total_m[:, None, :]
    found = np.full((*left.shape, len(ZONES)), 2.0)
    found[..., :OUT] = np.moveaxis(ground.values.at(np.abs(left)), 0, -1)
    return found


def _steps(weight: Floats, by_zone: Floats) -> tuple[Floats, Floats]:
    """What each border between zones is worth, (p, h, n, k), and what all costs that lies beyond the last one, (p, h).

    ``sum_zone share value = last value + sum_border below (value left of it - value right of it)``: what is known of the
    borders need not be turned into shares for every aim that is tried.
    """
    steps = (by_zone[..., :-1] - by_zone[..., 1:]) * weight[:, None, :, None]
    return steps, (by_zone[..., -1] * weight[:, None]).sum(axis=-1)


def _by_aim(nodes: _Nodes, ground: _Ground, shares: Distribution = distribution) -> tuple[Floats, Floats, Floats]:
    """Strokes by aim and hole, (p, a, h); what lies left of each border, (p, a, n, k); and strokes as :func:`_values`."""
    below, strokes = _below(nodes, ground.edges_m, AIMS_DEG[None, :], shares), _values(nodes, ground)
    count, holes, n_nodes = strokes.shape[:3]
    with_out = [number for number, layout in enumerate(ground.layouts) if OUT in layout.zones]
    steps = np.zeros((count, holes + len(with_out), n_nodes, ground.edges_m.size))
    beyond = np.zeros((count, holes + len(with_out)))
    for layout, place in zip(ground.layouts, ground.places, strict=True):
        by_zone = strokes[:, list(layout.holes)][..., list(layout.zones)]
        own, beyond[:, list(layout.holes)] = _steps(nodes.weight, by_zone)
        steps[:, np.array(layout.holes)[:, None], :, place[None, :]] = own.transpose(1, 3, 0, 2)
    for row, number in enumerate(with_out, start=holes):
        is_out = np.array([[[[float(zone == OUT) for zone in ground.layouts[number].zones]]]]) * nodes.weight[:, None, :, None]
        own, beyond[:, row : row + 1] = _steps(np.ones_like(nodes.weight), is_out)
        steps[:, row, :, ground.places[number]] = own[:, 0].transpose(2, 0, 1)
    flat = below.reshape(count, AIMS_DEG.size, -1) @ steps.reshape(count, steps.shape[1], -1).swapaxes(1, 2)
    played = flat + beyond[:, None]
    total = played[..., :holes]
    for row, number in enumerate(with_out, start=holes):
        total[..., list(ground.layouts[number].holes)] /= 1.0 - played[..., row : row + 1]
    return total, below, strokes


def _best(nodes: _Nodes, ground: _Ground) -> list[PatternStrokes]:
    by_aim, below, strokes = _by_aim(nodes, ground)
    count, holes = nodes.total_m.shape[0], ground.lengths.size
    best = by_aim.argmin(axis=1)
    total, aim = np.take_along_axis(by_aim, best[:, None, :], 1)[:, 0], AIMS_DEG[best]
    extra, share = np.zeros((count, holes, len(ZONES))), np.zeros((count, holes, len(ZONES)))
    clean = (nodes.weight[:, None] * strokes[..., FAIRWAY]).sum(axis=-1)
    rows = np.arange(count)
    for layout, place in zip(ground.layouts, ground.places, strict=True):
        for hole in layout.holes:
            chosen = _zone_shares(nodes, below[rows, best[:, hole]][..., place])
            fairway = strokes[:, hole, :, FAIRWAY]
            for position, zone in enumerate(layout.zones):
                part = chosen[..., position]
                worth = strokes[:, hole, :, zone] + (total[:, hole, None] if zone == OUT else 0.0)
                extra[:, hole, zone] += (part * (worth - fairway)).sum(axis=-1)
                share[:, hole, zone] += part.sum(axis=-1)
    return _summed(total, clean, extra, share, aim)


def _zone_shares(nodes: _Nodes, below: Floats) -> Floats:
    """Weighted shares of each zone, (p, n, k + 1), from those left of each border, (p, n, k)."""
    shares = np.empty((*below.shape[:-1], below.shape[-1] + 1))
    shares[..., 0] = below[..., 0]
    np.subtract(below[..., 1:], below[..., :-1], out=shares[..., 1:-1])
    np.subtract(1.0, below[..., -1], out=shares[..., -1])
    shares *= nodes.weight[:, :, None]
    return shares


def _summed(total: Floats, clean: Floats, extra: Floats, share: Floats, aim: Floats) -> list[PatternStrokes]:
    lost, found = extra.mean(axis=1), share.mean(axis=1)
    columns = {"per_tee_shot": total.mean(axis=1), "per_round": total.sum(axis=1), "clean": clean.mean(axis=1)}
    columns |= dict(zip(("rough", "trees", "water", "out_of_bounds"), lost.T[1:], strict=True))
    columns |= dict(zip(("fairway_share", "trees_share", "water_share", "out_share"), found.T[[0, 2, 3, 4]], strict=True))
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return [
        PatternStrokes(**dict(zip(columns, row, strict=True)), aim_deg=tuple(aims))
        for row, aims in zip(rows, aim.tolist(), strict=True)
    ]


_STEP = {"total_m": 1.0, "log_total_sd": 0.05, "log_direction_sd": 0.05, "mishit_rate": 0.01, "tail_share": 0.002}
_OF_LOG = {"log_total_sd": "total_sd_m", "log_direction_sd": "direction_sd_deg"}


def _with_errors(
    columns: Columns, errors: Sequence[PatternError], found: list[PatternStrokes], ground: _Ground
) -> list[PatternStrokes]:
    # one aim per layout is enough for a slope: at the best aim the strokes do not change with it
    versions = 1 + len(_STEP)
    aims, size = np.array([strokes.aim_deg for strokes in found]).repeat(versions, axis=0), versions * BATCH // 2
    batches = enumerate(_batches(_nudged(columns), size))
    parts = [_at_aims(_nodes(batch), aims[number * size : (number + 1) * size], ground) for number, batch in batches]
    level, *nudged = (np.concatenate(parts) if parts else np.empty(0)).reshape(-1, versions).T
    slope = {name: (strokes - level) / step for (name, step), strokes in zip(_STEP.items(), nudged, strict=True)}
    part = {name: one * np.array([getattr(error, name) for error in errors]) for name, one in slope.items()}
    together = np.array([error.tail_correlation for error in errors])
    variance = sum((one**2 for one in part.values()), 2.0 * together * part["log_direction_sd"] * part["tail_share"])
    variance = np.maximum(variance, 0.0)
    return [
        replace(strokes, standard_error=float(np.sqrt(value)), strokes_per_m=float(per_m))
        for strokes, value, per_m in zip(found, variance, slope["total_m"], strict=True)
    ]


def _nudged(columns: Columns) -> Columns:
    """Each pattern, and behind it the same with a step of each of ``_STEP``."""
    versions = 1 + len(_STEP)
    told = {name: column.repeat(versions, axis=0) for name, column in columns.items()}
    for place, (name, step) in enumerate(_STEP.items(), start=1):
        if name in _OF_LOG:
            told[_OF_LOG[name]][place::versions] *= float(np.exp(step))
        else:
            told[name][place::versions] += step
    return told


def _at_aims(nodes: _Nodes, aims: Floats, ground: _Ground) -> Floats:
    """Mean strokes of a tee shot at given aims (p, h)."""
    total, strokes = np.empty((nodes.total_m.shape[0], ground.lengths.size)), _values(nodes, ground)
    for layout in ground.layouts:
        at = list(layout.holes)
        below = _below(nodes, layout.edges_m, aims[:, at].mean(axis=1, keepdims=True))[:, 0]
        shares = _zone_shares(nodes, below)
        by_zone = strokes[:, at][..., list(layout.zones)]
        out = [position for position, zone in enumerate(layout.zones) if zone == OUT]
        lost = shares[..., out].sum(axis=(1, 2))
        played = by_zone.reshape(*by_zone.shape[:2], -1) @ shares.reshape(shares.shape[0], -1, 1)
        total[:, at] = played[..., 0] / (1.0 - lost)[:, None]
    mean: Floats = total.mean(axis=1)
    return mean
