"""Measuring devices of the invented academy: what each reads, how far off, how finely."""

from __future__ import annotations

from dataclasses import dataclass

_FLIGHT = ("ball_speed_mps", "launch_deg", "direction_deg", "spin_rpm", "spin_axis_deg", "carry_m", "offline_m")
_HEIGHT = ("apex_m", "descent_deg")
_CLUB = ("club_speed_mps", "attack_deg", "path_deg", "face_deg", "loft_deg")
_STRIKE = ("strike_side_mm", "strike_height_mm")


@dataclass(frozen=True)
class Device:
    """One device.

    Attributes
    ----------
    device_id, place : str
        ``place``: indoors (computes carry in still standard air), outdoors (sees the whole flight) or guest.
    club_speed_share : float
        Share by which it reads club speed high.
    reads : frozenset of str
        Columns that it fills.
    bays : tuple of str
    """

    device_id: str
    place: str
    club_speed_share: float
    reads: frozenset[str]
    bays: tuple[str, ...]


DEVICES: dict[str, Device] = {
    device.device_id: device
    for device in (
        Device("unit-1", "indoors", 0.0, frozenset(_FLIGHT + _HEIGHT + _CLUB + _STRIKE), ("bay-1", "bay-2", "bay-3")),
        Device("unit-2", "outdoors", 0.004, frozenset(_FLIGHT + _HEIGHT + _CLUB), ("tee-1", "tee-2", "tee-3", "tee-4")),
        Device("unit-3", "indoors", 0.015, frozenset(_FLIGHT + _HEIGHT + _CLUB + _STRIKE), ("bay-4",)),
        Device("unit-4", "guest", -0.008, frozenset((*_FLIGHT, "club_speed_mps", "attack_deg")), ("tee-9",)),
    )
}

DECIMALS: dict[str, int] = {
    "club_speed_mps": 2,
    "ball_speed_mps": 2,
    "launch_deg": 1,
    "direction_deg": 1,
    "spin_rpm": 0,
    "spin_axis_deg": 1,
    "carry_m": 1,
    "offline_m": 1,
    "apex_m": 1,
    "descent_deg": 1,
    "attack_deg": 1,
    "path_deg": 1,
    "face_deg": 1,
    "loft_deg": 1,
    "strike_side_mm": 0,
    "strike_height_mm": 0,
}
"""Decimals that a device prints."""

RANGE_BALL_SPEED, RANGE_BALL_CARRY = 0.985, 0.965
"""A range ball leaves a little slower and drops out of the air a little earlier."""
