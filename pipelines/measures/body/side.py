"""Lead and trail, left and right."""

from __future__ import annotations


def body_side(region: str, handed: str | None) -> str | None:
    """``left`` or ``right`` for a lead or trail region of a player; None for a region in the middle, or when the hand is unknown.

    Parameters
    ----------
    region : str
        ``lead_wrist`` and so on.
    handed : {"right", "left"} or None

    Notes
    -----
    Lead is the side nearer the target: left for a right-handed player. Common practice.
    """
    side = region.split("_", 1)[0]
    if handed not in {"right", "left"} or side not in {"lead", "trail"}:
        return None
    lead = "left" if handed == "right" else "right"
    return lead if side == "lead" else {"left": "right", "right": "left"}[lead]
