"""Expected strokes of a drive pattern on a course, at the best aim, split into distance and trouble.

:func:`expected_strokes` is for one pattern; :func:`course_strokes` for many at once (what the night, the trade-off map and the
trials use). Distance is integrated over low-discrepancy points, direction exactly through the distribution function, so
the result is smooth in every figure of the pattern.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from pipelines.measures.scatter.tails import TAIL_FACTOR, sd_over_core
from pipelines.measures.strokes.pattern import DrivePattern, PatternError
from pipelines.measures.strokes.zones import FAIRWAY, OUT, ZONES, Layout, ZoneStrokes, course_layouts, zone_strokes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from schemas.course import Course

Floats = NDArray[np.float64]

AIMS_DEG: Floats = np.linspace(-6.0, 6.0, 17)
CORE_POINTS = 16
MISHIT_POINTS = 4
SHORTEST_M = 15.0
BATCH = 64


@dataclass(frozen=True)
class PatternStrokes:
    """What one pattern costs on one course; strokes per tee shot are averages over its tee shots.

    Attributes
    ----------
    per_tee_shot : float
        Strokes to hole out from the tee, at the best aim.
    per_round : float
        Sum over the course's tee shots.
    clean : float
        The same if every drive found the fairway at its distance: what distance alone decides.
    rough, trees, water, out_of_bounds : float
        Strokes lost to each; ``clean`` and these four add up to ``per_tee_shot``.
    fairway_share, trees_share, water_share, out_share : float
        Shares of drives that end there.
    aim_deg : tuple of float
        Best place of the pattern's middle for each tee shot [°], right is positive.
    standard_error : float or None
        Of ``per_tee_shot``, from the uncertainty of the pattern; None when that was not given.
    """

    per_tee_shot: float
    per_round: float
    clean: float
    rough: float
    trees: float
    water: float
    out_of_bounds: float
    fairway_share: float
    trees_share: float
    water_share: float
    out_share: float
    aim_deg: tuple[float, ...]
    standard_error: float | None = None

    @property
    def trouble(self) -> float:
        """Strokes per tee shot lost to rough, trees, water and out of bounds."""
        return self.rough + self.trees + self.water + self.out_of_bounds


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
    layouts, values = _course(course, standard)
    lengths = np.array([shot.length_m for shot in course.tee_shots])
    found: list[PatternStrokes] = []
    for start in range(0, len(patterns), BATCH):
        batch = _nodes(patterns[start : start + BATCH])
        found += _best(batch, layouts, values, lengths)
    return found if errors is None else _with_errors(patterns, errors, found, layouts, values, lengths)


@lru_cache(maxsize=64)
def _course(course: Course, standard: str) -> tuple[tuple[Layout, ...], ZoneStrokes]:
    return course_layouts(course), zone_strokes(standard, course.trees_blocked_share)


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


def _nodes(patterns: Sequence[DrivePattern]) -> _Nodes:
    z, core_weight, mishit_z, mishit_weight = _quantiles()
    column = {
        name: np.array([getattr(pattern, name) for pattern in patterns])[:, None]
        for name in DrivePattern.__dataclass_fields__
        if name != "direction_deg"
    }
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


def _distribution(t: Floats, tail_share: Floats) -> Floats:
    """Share of directions below t narrow widths; ``tail_share`` broadcasts."""
    below: Floats = ndtr(t)
    if tail_share.any():
        wide = ndtr(t * (1.0 / TAIL_FACTOR))
        wide -= below
        wide *= tail_share
        below += wide
    return below


def _zone_shares(nodes: _Nodes, layout: Layout, aims_deg: Floats) -> Floats:
    """Weighted shares of each zone: shape (p, a, n, z); ``aims_deg`` has shape (p or 1, a)."""
    borders = np.degrees(np.arctan(layout.edges_m / nodes.total_m[:, :, None])) - nodes.middle_deg[:, :, None]
    inverse = 1.0 / nodes.scale_deg[:, None, :, None]
    widths = (borders[:, None] - aims_deg[:, :, None, None]) * inverse
    below = _distribution(widths, nodes.tail_share[:, :, None, None])
    shares = np.empty((*below.shape[:-1], below.shape[-1] + 1))
    shares[..., 0] = below[..., 0]
    np.subtract(below[..., 1:], below[..., :-1], out=shares[..., 1:-1])
    np.subtract(1.0, below[..., -1], out=shares[..., -1])
    shares *= nodes.weight[:, None, :, None]
    return shares


def _values(nodes: _Nodes, layout: Layout, values: ZoneStrokes, lengths: Floats) -> Floats:
    """Strokes by hole, node and kind of zone: shape (p, h, n, 5); out of bounds holds its two strokes."""
    left = lengths[list(layout.holes)][None, :, None] - nodes.total_m[:, None, :]
    by_kind = values.at(np.abs(left))
    return np.stack([*by_kind, np.full_like(left, 2.0)], axis=-1)


def _layout_strokes(shares: Floats, strokes: Floats, layout: Layout) -> tuple[Floats, Floats]:
    """Strokes (p, a, h) and share out of bounds (p, a)."""
    by_zone = strokes[..., list(layout.zones)]
    flat = shares.reshape(*shares.shape[:2], -1)
    played = flat @ by_zone.reshape(*by_zone.shape[:2], -1).swapaxes(1, 2)
    out = [position for position, zone in enumerate(layout.zones) if zone == OUT]
    lost: Floats = shares[..., out].sum(axis=(2, 3))
    total: Floats = played / (1.0 - lost)[..., None]
    return total, lost


def _best(nodes: _Nodes, layouts: tuple[Layout, ...], values: ZoneStrokes, lengths: Floats) -> list[PatternStrokes]:
    count, holes = nodes.total_m.shape[0], lengths.size
    total, aim = np.empty((count, holes)), np.empty((count, holes))
    extra, share = np.zeros((count, holes, len(ZONES))), np.zeros((count, holes, len(ZONES)))
    clean = np.empty((count, holes))
    rows = np.arange(count)[:, None]
    for layout in layouts:
        at = list(layout.holes)
        shares = _zone_shares(nodes, layout, AIMS_DEG[None, :])
        strokes = _values(nodes, layout, values, lengths)
        by_aim, _ = _layout_strokes(shares, strokes, layout)
        best = by_aim.argmin(axis=1)
        total[:, at], aim[:, at] = np.take_along_axis(by_aim, best[:, None, :], 1)[:, 0], AIMS_DEG[best]
        chosen = shares[rows, best]
        fairway = strokes[..., FAIRWAY]
        clean[:, at] = np.einsum("pn,phn->ph", nodes.weight, fairway)
        for position, zone in enumerate(layout.zones):
            part = chosen[..., position]
            worth = strokes[..., zone] + (total[:, at][..., None] if zone == OUT else 0.0)
            extra[:, at, zone] += np.einsum("phn,phn->ph", part, worth - fairway)
            share[:, at, zone] += part.sum(axis=-1)
    return [_summed(total[p], clean[p], extra[p], share[p], aim[p]) for p in range(count)]


def _summed(total: Floats, clean: Floats, extra: Floats, share: Floats, aim: Floats) -> PatternStrokes:
    lost, found = extra.mean(axis=0), share.mean(axis=0)
    return PatternStrokes(
        per_tee_shot=float(total.mean()),
        per_round=float(total.sum()),
        clean=float(clean.mean()),
        rough=float(lost[1]),
        trees=float(lost[2]),
        water=float(lost[3]),
        out_of_bounds=float(lost[4]),
        fairway_share=float(found[0]),
        trees_share=float(found[2]),
        water_share=float(found[3]),
        out_share=float(found[4]),
        aim_deg=tuple(float(value) for value in aim),
    )


_STEP = {"total_m": 1.0, "log_total_sd": 0.05, "log_direction_sd": 0.05, "mishit_rate": 0.01, "tail_share": 0.002}


def _with_errors(
    patterns: Sequence[DrivePattern],
    errors: Sequence[PatternError],
    found: list[PatternStrokes],
    layouts: tuple[Layout, ...],
    values: ZoneStrokes,
    lengths: Floats,
) -> list[PatternStrokes]:
    def mean_strokes(moved: list[DrivePattern]) -> Floats:
        parts = [
            _at_aims(_nodes(moved[start : start + BATCH]), aims[start : start + BATCH], layouts, values, lengths)
            for start in range(0, len(moved), BATCH)
        ]
        return np.concatenate(parts)

    # one aim per layout is enough for a slope: at the best aim the strokes do not change with it
    aims = np.array([strokes.aim_deg for strokes in found])
    level = mean_strokes(list(patterns))
    part = {
        name: (mean_strokes([_nudged(pattern, name, step) for pattern in patterns]) - level)
        / step
        * np.array([getattr(error, name) for error in errors])
        for name, step in _STEP.items()
    }
    together = np.array([error.tail_correlation for error in errors])
    variance = sum((one**2 for one in part.values()), 2.0 * together * part["log_direction_sd"] * part["tail_share"])
    variance = np.maximum(variance, 0.0)
    return [replace(strokes, standard_error=float(np.sqrt(value))) for strokes, value in zip(found, variance, strict=True)]


def _nudged(pattern: DrivePattern, name: str, step: float) -> DrivePattern:
    if name == "total_m":
        return replace(pattern, total_m=pattern.total_m + step)
    if name == "log_total_sd":
        return replace(pattern, total_sd_m=pattern.total_sd_m * float(np.exp(step)))
    if name == "log_direction_sd":
        return replace(pattern, direction_sd_deg=pattern.direction_sd_deg * float(np.exp(step)))
    if name == "tail_share":
        return replace(pattern, tail_share=pattern.tail_share + step)
    return replace(pattern, mishit_rate=pattern.mishit_rate + step)


def _at_aims(nodes: _Nodes, aims: Floats, layouts: tuple[Layout, ...], values: ZoneStrokes, lengths: Floats) -> Floats:
    total = np.empty((nodes.total_m.shape[0], lengths.size))
    for layout in layouts:
        at = list(layout.holes)
        shares = _zone_shares(nodes, layout, aims[:, at].mean(axis=1, keepdims=True))
        by_aim, _ = _layout_strokes(shares, _values(nodes, layout, values, lengths), layout)
        total[:, at] = by_aim[:, 0]
    mean: Floats = total.mean(axis=1)
    return mean
