"""Regions of the body that reports may name. Lead is the side nearer the target: left for a right-handed player."""

from __future__ import annotations

REGIONS: tuple[str, ...] = (
    "neck",
    "upper_back",
    "lower_back",
    "lead_shoulder",
    "trail_shoulder",
    "lead_elbow",
    "trail_elbow",
    "lead_wrist",
    "trail_wrist",
    "lead_hip",
    "trail_hip",
    "lead_knee",
    "trail_knee",
)
