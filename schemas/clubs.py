"""The clubs that a shot may name, and the groups in which they are compared."""

from __future__ import annotations

from types import MappingProxyType

import polars as pl

_GROUPS: dict[str, tuple[str, ...]] = {
    "driver": ("driver",),
    "fairway": ("3-wood", "4-wood", "5-wood", "7-wood", "9-wood"),
    "hybrid": ("2-hybrid", "3-hybrid", "4-hybrid", "5-hybrid", "6-hybrid"),
    "iron": ("1-iron", "2-iron", "3-iron", "4-iron", "5-iron", "6-iron", "7-iron", "8-iron", "9-iron"),
    "wedge": ("pitching-wedge", "gap-wedge", "sand-wedge", "lob-wedge"),
    "putter": ("putter",),
    "training": ("light-stick", "heavy-stick"),
}

CLUB_GROUP = MappingProxyType({club: group for group, clubs in _GROUPS.items() for club in clubs})
"""Club to group. ``training`` holds speed sticks: their swings count as load, never as shots that are compared."""

CLUBS: tuple[str, ...] = tuple(CLUB_GROUP)


def club_group(club: pl.Expr) -> pl.Expr:
    """The group of each club; null stays null."""
    return club.replace_strict(dict(CLUB_GROUP), default=None, return_dtype=pl.String)
