"""Expected strokes of a drive pattern on a course, at the best aim, split into distance and trouble.

:func:`expected_strokes` is for one pattern; :func:`course_strokes` for many at once (what the night, the trade-off map and the
trials use). Distance is integrated over low-discrepancy points, direction exactly through the distribution function, so
the result is smooth in every figure of the pattern.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from pipelines.measures.products import product
from pipelines.measures.scatter.tails import sd_over_core
from pipelines.measures.strokes.directions import distribution
from pipelines.measures.strokes.ground import Ground, course_ground
from pipelines.measures.strokes.pattern import DrivePattern, PatternError, PatternStrokes
from pipelines.measures.strokes.zones import FAIRWAY, OUT, ZONES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from schemas.course import Course

Floats = NDArray[np.float64]

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
    ground, columns = course_ground(course, standard), _columns(patterns)
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
    ground = course_ground(course, standard)
    parts = [_by_aim(_nodes(batch), ground)[0].min(axis=1) for batch in _batches(_columns(patterns), BATCH)]
    return np.concatenate([one.sum(axis=1) for one in parts]) if parts else np.empty(0)


def map_strokes(patterns: Sequence[DrivePattern], scatter_deg: Floats, course: Course, standard: str = "80") -> Floats:
    """Strokes of a round for every pattern at every scatter of direction, at the best aim for each tee shot.

    Parameters
    ----------
    patterns : sequence of DrivePattern
        Their own scatter of direction is not looked at.
    scatter_deg : numpy.ndarray
        Shape (t,): standard deviation of direction [°].
    course, standard
        As for :func:`course_strokes`.

    Returns
    -------
    numpy.ndarray
        Shape (len(patterns), t); within 1e-9 of those of :func:`round_strokes`, in half the time: what a drive of some length
        leaves is worth the same at every scatter.

    Notes
    -----
    Source: [Broadie2012]. Checked: tests/property/test_strokes.py.
    """
    columns, found = _columns(patterns), np.empty((len(patterns), scatter_deg.size))
    if not found.size:
        return found
    ground, aims = course_ground(course, standard), AIMS_DEG[:, None, None]
    nodes = _nodes(columns | {"direction_sd_deg": np.ones_like(columns["direction_sd_deg"])})
    steps, beyond = _steps(nodes, _values(nodes, ground), ground)
    directions, middle = _directions(nodes, ground.edges_m), nodes.middle_deg / nodes.scale_deg
    for place, narrower in enumerate(1.0 / nodes.scale_deg):
        inverse = narrower / scatter_deg[:, None, None, None]
        below = distribution(((directions[place] - aims) * inverse - middle[place])[None], nodes.tail_share[place])[0]
        played = product(below.reshape(-1, directions[place].size), steps[place].reshape(beyond.shape[1], -1).T) + beyond[place]
        found[place] = _total(played, ground).reshape(scatter_deg.size, aims.size, -1).min(axis=1).sum(axis=1)
    return found


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


def _directions(nodes: _Nodes, edges_m: Floats) -> Floats:
    """Direction of each border at each distance [°]: shape (p, k, n)."""
    return np.degrees(np.arctan(edges_m[:, None] / nodes.total_m[:, None, :]))


def _values(nodes: _Nodes, ground: Ground) -> Floats:
    """Strokes by kind of zone, pattern, hole and node: shape (5, p, h, n); out of bounds holds its two strokes."""
    left = np.abs(ground.lengths_m[:, None] - nodes.total_m[:, None, :])
    found = np.full((len(ZONES), *left.shape), 2.0)
    ground.values.at(left, found[:OUT])
    return found


def _steps(nodes: _Nodes, strokes: Floats, ground: Ground) -> tuple[Floats, Floats]:
    """What each border between zones is worth, (p, r, k, n), and what all costs that lies beyond the last one, (p, r).

    ``sum_zone share value = last value + sum_border below (value left of it - value right of it)``: what is known of the
    borders need not be turned into shares for every aim that is tried. Rows are the holes, and behind them for each layout with
    out of bounds what comes to lie there.
    """
    borders, out = ground.borders, ground.out
    weight, count = nodes.weight, ground.lengths_m.size
    steps = np.zeros((weight.shape[0], count + out.last.size, ground.edges_m.size, weight.shape[1]))
    steps[:, borders.hole, borders.edge] = _worth(strokes, weight, ground).swapaxes(0, 1)
    steps[:, count + out.row, out.edge] = out.sign[:, None] * weight[:, None, :]
    beyond = np.empty(steps.shape[:2])
    beyond[:, :count] = _last(strokes, weight, ground).T
    beyond[:, count:] = out.last * weight.sum(axis=1, keepdims=True)
    return steps, beyond


def _worth(strokes: Floats, weight: Floats, ground: Ground) -> Floats:
    """What a drive that ends left of a border costs more than one right of it, weighted: shape (b, p, n)."""
    borders = ground.borders
    own: Floats = strokes[borders.left, :, borders.hole]
    own -= strokes[borders.right, :, borders.hole]
    own *= weight
    return own


def _last(strokes: Floats, weight: Floats, ground: Ground) -> Floats:
    """What all costs that lies beyond the last border of each hole: shape (h, p)."""
    found: Floats = (strokes[ground.borders.last, :, np.arange(ground.lengths_m.size)] * weight).sum(axis=-1)
    return found


def _by_aim(nodes: _Nodes, ground: Ground) -> tuple[Floats, Floats, Floats]:
    """Strokes by aim and hole, (p, a, h); what lies left of each border, (p, a, k, n); and strokes as :func:`_values`."""
    inverse = (1.0 / nodes.scale_deg)[:, None, None, :]
    directions, strokes = _directions(nodes, ground.edges_m)[:, None], _values(nodes, ground)
    turned = (directions - AIMS_DEG[:, None, None]) * inverse - nodes.middle_deg[:, None, None, :] * inverse
    below = distribution(turned, nodes.tail_share[:, :, None, None])
    steps, beyond = _steps(nodes, strokes, ground)
    rows = steps.reshape(*steps.shape[:2], -1).swapaxes(1, 2)
    return _total(product(below.reshape(*below.shape[:2], -1), rows) + beyond[:, None], ground), below, strokes


def _total(played: Floats, ground: Ground) -> Floats:
    """Strokes by hole, (..., h), of the rows of :func:`_steps`: from out of bounds the same tee shot is played again."""
    count, out = ground.lengths_m.size, ground.out
    total = played[..., :count]
    total[..., out.holes] /= 1.0 - played[..., count + out.row_of_hole]
    return total


def _best(nodes: _Nodes, ground: Ground) -> list[PatternStrokes]:
    by_aim, below, strokes = _by_aim(nodes, ground)
    best, weight, parts = by_aim.argmin(axis=1), nodes.weight, ground.parts
    total, aim = np.take_along_axis(by_aim, best[:, None, :], 1)[:, 0], AIMS_DEG[best]
    left = np.zeros((best.shape[0], ground.borders.hole.size + 2, weight.shape[1]))  # of each border; of none, and of all
    left[:, :-2] = below[np.arange(best.shape[0])[:, None], best[:, ground.borders.hole], ground.borders.edge]
    left[:, -1] = 1.0
    chosen = left[:, parts.upper]
    chosen -= left[:, parts.lower]
    chosen *= weight[:, None]
    fairway, share = strokes[FAIRWAY], chosen.sum(axis=-1)
    chosen *= strokes[parts.zone, :, parts.hole].swapaxes(0, 1) - fairway[:, parts.hole]
    extra = chosen.sum(axis=-1) + share * total[:, parts.hole] * (parts.zone == OUT)
    by_zone = (np.stack([extra, share], axis=1) @ parts.by_zone) / best.shape[1]
    return _summed(total, (fairway * weight[:, None]).sum(axis=-1), by_zone, aim)


def _summed(total: Floats, clean: Floats, by_zone: Floats, aim: Floats) -> list[PatternStrokes]:
    columns = {"per_tee_shot": total.mean(axis=1), "per_round": total.sum(axis=1), "clean": clean.mean(axis=1)}
    columns |= dict(zip(("rough", "trees", "water", "out_of_bounds"), by_zone[:, 0].T[1:], strict=True))
    columns |= dict(zip(("fairway_share", "trees_share", "water_share", "out_share"), by_zone[:, 1].T[[0, 2, 3, 4]], strict=True))
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return [
        PatternStrokes(**dict(zip(columns, row, strict=True)), aim_deg=tuple(aims))
        for row, aims in zip(rows, aim.tolist(), strict=True)
    ]


_STEP = {"total_m": 1.0, "log_total_sd": 0.05, "log_direction_sd": 0.05, "mishit_rate": 0.01, "tail_share": 0.002}
_OF_LOG = {"log_total_sd": "total_sd_m", "log_direction_sd": "direction_sd_deg"}


def _with_errors(
    columns: Columns, errors: Sequence[PatternError], found: list[PatternStrokes], ground: Ground
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


def _at_aims(nodes: _Nodes, aims: Floats, ground: Ground) -> Floats:
    """Mean strokes of a tee shot at given aims (p, h)."""
    weight, strokes, inverse = nodes.weight, _values(nodes, ground), (1.0 / nodes.scale_deg)[:, None]
    turned = _directions(nodes, ground.edges_m)[:, ground.layout_edge] - (aims[:, None] @ ground.mean_aim).swapaxes(1, 2)
    below = distribution(turned * inverse - nodes.middle_deg[:, None] * inverse, nodes.tail_share[:, :, None])
    played = (_worth(strokes, weight, ground) * below.swapaxes(0, 1)[ground.borders.of_layout]).sum(axis=-1)
    total = np.add.reduceat(played, ground.borders.begins) + _last(strokes, weight, ground)
    if ground.out.row.size:
        out = ground.out
        shares = (below[:, out.of_layout] * weight[:, None]).sum(axis=-1).T * out.sign[:, None]
        lost = np.add.reduceat(shares, out.begins) + out.last[:, None]
        total[out.holes] /= 1.0 - lost[out.row_of_hole]
    mean: Floats = np.ascontiguousarray(total.T).mean(axis=1)
    return mean
