"""What is taken for usual until the squad's own data say better, for each quantity that is followed."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Prior:
    """Prior values of one quantity, in its change unit (per cent, or degrees).

    Attributes
    ----------
    session_sd : float
        Between true session values of a player whose level does not change: form, day.
    shot_sd : float
        Between shots of a session; of a spread: of its logarithm, times the square root of the shots.
    worthwhile : float
        Smallest worthwhile change; also the scale of the trend's grid.
    """

    session_sd: float
    shot_sd: float
    worthwhile: float


PRIORS: MappingProxyType[str, Prior] = MappingProxyType(
    {
        "club_speed_mps": Prior(0.7, 1.5, 1.0),
        "ball_speed_mps": Prior(0.8, 2.2, 1.0),
        "speed_ratio": Prior(0.5, 1.8, 0.7),
        "comparable_carry_m": Prior(1.2, 5.0, 1.5),
        "scatter_side_m": Prior(12.0, 77.5, 15.0),  # sampling SD of the log is about sqrt(.6 / n)
        "scatter_long_m": Prior(12.0, 77.5, 15.0),
        "wild_pct": Prior(1.5, 17.0, 4.0),  # sampling SD of a share of .03: 100 sqrt(.03 .97 / n)
        "aim_deg": Prior(0.8, 3.2, 1.0),
        "strike_spread_mm": Prior(12.0, 75.0, 15.0),  # sampling SD of a log standard deviation: sqrt(.5 / n)
        "attack_deg": Prior(0.5, 1.2, 0.6),
        "launch_deg": Prior(0.6, 1.8, 0.7),
        "spin_rpm": Prior(4.0, 12.0, 5.0),
    }
)
"""Common practice and first guesses of ours (a quarter of a year of a squad's own sessions replaces them)."""

CORRELATION = 0.1
"""Lag-1 autocorrelation of form from session to session until the squad's own is known."""
