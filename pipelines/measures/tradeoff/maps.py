"""The trade-off map of a player on a course: lines of equal strokes around where the player is, and break-even."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.reference_months import with_recent
from pipelines.measures.strokes.months import USUAL_RUN_SHARE, drive_pattern
from pipelines.measures.tradeoff.break_even import scatter_price_deg, speed_price_mps
from pipelines.measures.tradeoff.surface import SpeedScale, stroke_lines, surface
from pipelines.measures.transfer.distance import distances_per_speed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pipelines.measures.strokes import DrivePattern
    from schemas.course import Course

Floats = NDArray[np.float64]

SPEED_SPAN_MPS, SCATTER_LOW, SCATTER_HIGH = 4.5, 0.45, 1.9
"""Half width of the map in club speed, and its scatter as shares of the player's own."""
SPEED_POINTS, SCATTER_POINTS = 7, 9
LINE_STEPS = np.arange(-8.0, 8.5, 0.5)
USUAL_TOTAL_M_PER_MPS = 5.5
"""Metres for 1 m/s where the player's own delivery lies outside the models (the rules bodies' slope is 5.3 to 6.1)."""
SPEED_GAIN_MPS, SCATTER_GAIN_DEG = 0.894, 0.5
"""What break-even is told for: two miles an hour of club speed, half a degree of scatter."""


def speed_scales(rows: Sequence[Mapping[str, Any]]) -> list[SpeedScale]:
    """What club speed is worth to the players of rows of the pattern table that have one."""
    parts = np.array([[row[name] for name in _DELIVERY] for row in rows], dtype=np.float64).reshape(len(rows), len(_DELIVERY))
    told = np.flatnonzero(~np.isnan(parts).any(axis=1))
    worth = dict(zip(told.tolist(), distances_per_speed(*parts[told].T) if told.size else (), strict=True))
    found = [worth.get(number) for number in range(len(rows))]
    return [
        SpeedScale(row["club_speed_mps"], USUAL_TOTAL_M_PER_MPS if one is None else one.total_m_per_mps)
        for row, one in zip(rows, found, strict=True)
    ]


_DELIVERY = ("club_speed_mps", "speed_ratio", "launch_deg", "spin_rpm")
_LEVELS = (
    *("total_m", "carry_sd_m", "direction_sd_deg", "correlation", "mishit_rate", "tail_share"),
    *("club_speed_mps", "speed_ratio", "launch_deg", "spin_rpm"),
)


def newest_patterns(patterns: pl.DataFrame) -> pl.DataFrame:
    """One row a player: the last three months that have a pattern and a club speed, pooled."""
    known = patterns.filter(pl.col("carry_m").is_not_null(), pl.col("club_speed_mps").is_not_null()).with_columns(
        pl.coalesce("total_m", pl.col("carry_m") * (1.0 + USUAL_RUN_SHARE))
    )
    pooled = with_recent(known, ["player_id"], _LEVELS, "n_shots")
    newest = pooled.sort("player_id", "month_on").group_by("player_id", maintain_order=True).last()
    return newest.with_columns(pl.col(f"recent_{name}").alias(name) for name in _LEVELS)


def placed(recent: pl.DataFrame) -> list[tuple[dict[str, Any], DrivePattern, SpeedScale]]:
    """Rows of :func:`newest_patterns` with their drive pattern, and what speed is worth to the player."""
    rows = [row for row in recent.iter_rows(named=True) if row["club_speed_mps"] is not None]
    return [(row, drive_pattern(row), scale) for row, scale in zip(rows, speed_scales(rows), strict=True)]


def map_lines(
    players: Sequence[tuple[dict[str, Any], DrivePattern, SpeedScale]],
    standards: Mapping[str, str],
    courses: Sequence[Course],
    schema: dict[str, pl.DataType],
) -> pl.DataFrame:
    """Lines of equal strokes for every player and course, in steps of half a stroke a round.

    Parameters
    ----------
    players : sequence
        From :func:`placed`.
    standards : mapping
        Player to standard.
    courses : sequence of Course
    schema : dict
        Columns and types of the result, in order.

    Returns
    -------
    polars.DataFrame
        One row per player, course, line and point; ``step`` counts strokes a round from where the player is now.

    Notes
    -----
    Distance follows club speed at the player's own slope; mishits and the shape of the pattern are held.
    Source: [Broadie2012]. Checked: tests/property/test_tradeoff.py.
    """
    rows: list[tuple[Any, ...]] = []
    for row, pattern, scale in players:
        speeds = scale.club_speed_mps + np.linspace(-SPEED_SPAN_MPS, SPEED_SPAN_MPS, SPEED_POINTS)
        scatters = pattern.direction_sd_deg * np.linspace(SCATTER_LOW, SCATTER_HIGH, SCATTER_POINTS)
        for course in courses:
            field = surface(pattern, scale, course, standards[row["player_id"]], speeds, scatters)
            here = field.at(scale.club_speed_mps, pattern.direction_sd_deg)
            if here is None:
                continue
            for line in stroke_lines(field, here, LINE_STEPS):
                points = enumerate(zip(line.club_speed_mps, line.scatter_deg, strict=True))
                rows += [
                    (row["player_id"], course.name, line.strokes, number, float(speed), float(scatter))
                    for number, (speed, scatter) in points
                ]
    return pl.DataFrame(rows, schema=schema, orient="row")


def break_evens(
    players: Sequence[tuple[dict[str, Any], DrivePattern, SpeedScale]],
    standards: Mapping[str, str],
    courses: Sequence[Course],
    schema: dict[str, pl.DataType],
) -> pl.DataFrame:
    """What a gain of one may cost of the other, for every player and course.

    Parameters
    ----------
    players, standards, courses, schema
        As for :func:`map_lines`.

    Returns
    -------
    polars.DataFrame
        One row per player and course; null where nothing within the limits uses up the gain.

    Notes
    -----
    See :mod:`pipelines.measures.tradeoff.break_even`. Source: [Broadie2012]. Checked: tests/property/test_tradeoff.py.
    """
    rows: list[tuple[Any, ...]] = []
    for standard in sorted(set(standards.values())):
        chosen = [player for player in players if standards[player[0]["player_id"]] == standard]
        for course in courses if chosen else ():
            pairs = [(pattern, scale) for _, pattern, scale in chosen]
            scatter = scatter_price_deg(pairs, course, standard, SPEED_GAIN_MPS)
            speed = speed_price_mps(pairs, course, standard, SCATTER_GAIN_DEG)
            rows += [
                (
                    row["player_id"],
                    course.name,
                    row["month_on"],
                    scale.total_m_per_mps,
                    SPEED_GAIN_MPS,
                    more,
                    SCATTER_GAIN_DEG,
                    less,
                )
                for (row, _, scale), more, less in zip(chosen, scatter, speed, strict=True)
            ]
    return pl.DataFrame(rows, schema=schema, orient="row").sort("player_id", "course")
