"""Shapes and measures of charts that pages need too, without the chart library, which takes as long to load as a page to make."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Sequence

REACH_METRICS = ("club_speed_mps", "ball_speed_mps", "speed_ratio", "comparable_carry_m")
"""Metrics of the chart ``reach``, from above."""
SQUAD_HEIGHT = 420
"""Height of the squad's trade-off map [px]."""
PLAN_WIDTH, PLAN_HEIGHT = 270, 360
"""Width and height of the plan view of recent shots [px]."""
LEAST_SPAN = 60.0
RING_POINTS = 48
RING_SCHEMA: dict[str, pl.DataType] = {
    "offline": pl.Float64(),
    "carry": pl.Float64(),
    "order": pl.Int64(),
    "ring": pl.String(),
}


def plan_frame(offline: Sequence[float], carry: Sequence[float]) -> dict[str, list[float]]:
    """Corners of the picture: all shots inside, the target line in it, and the same scale both ways."""
    widest = max(abs(min(offline)), abs(max(offline)), LEAST_SPAN / 2) * 1.1
    low, high = min(carry), max(carry)
    tallest = max((high - low) * 1.15, 2 * widest * PLAN_HEIGHT / PLAN_WIDTH)
    half_across, middle = tallest * PLAN_WIDTH / PLAN_HEIGHT / 2, (low + high) / 2
    return {"offline": [-half_across, half_across], "carry": [middle - tallest / 2, middle + tallest / 2]}


def corners_of(offline: pl.Series, carry: pl.Series) -> pl.DataFrame:
    """Corners of a square picture: all shots inside, the target line in its middle, the same scale both ways."""
    across = [abs(value) for value in offline]
    low, high = min(carry), max(carry)
    half = max(*across, (high - low) / 2, LEAST_SPAN / 2) * 1.06
    middle = (low + high) / 2
    return pl.DataFrame({"offline": [-half, half], "carry": [middle - half, middle + half]})


def ring(
    carry: float, offline: float, long_half: float, short_half: float, tilt_deg: float, name: str
) -> list[tuple[float, float, int, str]]:
    """Points of an ellipse: its long axis is tilted from the line of play toward the right."""
    cosine, sine = math.cos(math.radians(tilt_deg)), math.sin(math.radians(tilt_deg))
    found = []
    for order in range(RING_POINTS + 1):
        turn = 2 * math.pi * order / RING_POINTS
        along, across = long_half * math.cos(turn), short_half * math.sin(turn)
        found.append((offline + along * sine + across * cosine, carry + along * cosine - across * sine, order, name))
    return found
