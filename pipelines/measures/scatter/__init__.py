"""Scatter: robust middle and spread of a shot pattern, ellipses, mishits."""

from pipelines.measures.scatter.ellipse import (
    Ellipse,
    ellipse,
    large_sample_multiplier,
    middle_multiplier,
    next_shot_multiplier,
)
from pipelines.measures.scatter.mishit import MISHIT_SHARE, Rate, is_short_shot, mishit_rate
from pipelines.measures.scatter.pattern import ShotPattern, shot_pattern
from pipelines.measures.scatter.tails import TailSpread, sd_over_core, tail_spread

__all__ = [
    "MISHIT_SHARE",
    "Ellipse",
    "Rate",
    "ShotPattern",
    "TailSpread",
    "ellipse",
    "is_short_shot",
    "large_sample_multiplier",
    "middle_multiplier",
    "mishit_rate",
    "next_shot_multiplier",
    "sd_over_core",
    "shot_pattern",
    "tail_spread",
]
