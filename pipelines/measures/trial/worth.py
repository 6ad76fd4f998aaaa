"""Smallest worthwhile changes: how much each measurement must move before it matters."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Worthwhile:
    """Smallest change that matters for one measurement.

    Attributes
    ----------
    amount : float
        In the unit of the measurement, or a share of the player's normal level.
    is_share : bool
        ``amount`` is a share of the normal level.
    only_core : bool
        Mishits are left out of the mean (they are counted beside it).
    is_delivery : bool
        Part of the swing or strike: a side effect when the trial was about something else.
    """

    amount: float
    is_share: bool = False
    only_core: bool = False
    is_delivery: bool = False

    def at(self, level: float) -> float:
        """The change in the unit of the measurement, at the player's normal level."""
        return self.amount * abs(level) if self.is_share else self.amount


WORTHWHILE: MappingProxyType[str, Worthwhile] = MappingProxyType(
    {
        "club_speed_mps": Worthwhile(0.01, is_share=True),
        "ball_speed_mps": Worthwhile(0.01, is_share=True, only_core=True),
        "speed_ratio": Worthwhile(0.01, only_core=True),
        "carry_m": Worthwhile(0.015, is_share=True, only_core=True),
        "offline_m": Worthwhile(4.0, only_core=True),
        "attack_deg": Worthwhile(1.0, is_delivery=True),
        "path_deg": Worthwhile(1.0, is_delivery=True),
        "face_deg": Worthwhile(1.0, is_delivery=True),
        "loft_deg": Worthwhile(1.0, is_delivery=True),
        "launch_deg": Worthwhile(1.0, only_core=True, is_delivery=True),
        "direction_deg": Worthwhile(1.0, only_core=True, is_delivery=True),
        "spin_rpm": Worthwhile(250.0, only_core=True, is_delivery=True),
        "strike_side_mm": Worthwhile(4.0, is_delivery=True),
        "strike_height_mm": Worthwhile(3.0, is_delivery=True),
    }
)
"""Smallest worthwhile change by measurement. One percent of speed is the default of the whole program; the others are common
practice: about what a coach would remark on. Source: [TrialPractice]."""

SCATTER_WORTHWHILE = 1.2
"""A fifth wider (or narrower) is the smallest change of scatter that matters. Source: [TrialPractice]."""

STROKES_WORTHWHILE = 0.3
"""Strokes a round: about one in four rounds gained over a tournament. Source: [TrialPractice]."""
