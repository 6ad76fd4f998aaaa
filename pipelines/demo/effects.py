"""What changes in a player over the months: effects on traits, and the line of each trait by day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from pipelines.demo.cast import LAST_ON, START_ON

Floats = NDArray[np.float64]
N_DAYS = (LAST_ON - START_ON).days + 1
EMPTY = ""

SHARES = ("speed", "scatter", "load", "plan")
"""Traits that multiply: an effect of 0.02 makes 2 % more. All others add."""


@dataclass(frozen=True)
class Effect:
    """One change of one trait of one player.

    Attributes
    ----------
    player_id : str
        Empty: everybody.
    trait : str
        speed, scatter, load, plan (shares); wild (share of shots); aim_deg, path_deg, loft_deg, strike_side_mm; away,
        silent, daily (from 0.5 on: yes);
        unanswered (share of the answers that are left out); fatigue, soreness, stress, sleep_trouble, sleep_h or stiff_REGION
        (points or hours).
    from_on : datetime.date
    amount : float
        Share or amount once the ramp is over.
    ramp_days : int
        Days from nothing to the whole amount.
    until_on : datetime.date or None
        First day without it; None: it stays.
    """

    player_id: str
    trait: str
    from_on: date
    amount: float
    ramp_days: int = 0
    until_on: date | None = None


def day_number(on: date) -> int:
    """Days since the first day of the academy."""
    return (on - START_ON).days


def effect_line(effect: Effect) -> Floats:
    """The effect by day, shape (days,): 0 before, a straight ramp, then its amount."""
    since = np.arange(N_DAYS, dtype=np.float64) - day_number(effect.from_on)
    share = np.clip((since + 1.0) / max(effect.ramp_days, 1), 0.0, 1.0)
    line: Floats = np.where(since >= 0, share * effect.amount, 0.0)
    if effect.until_on is not None:
        line[max(day_number(effect.until_on), 0) :] = 0.0
    return line


def trait_line(effects: tuple[Effect, ...], player_id: str, trait: str) -> Floats:
    """The trait by day, shape (days,): around 1 for a share, around 0 for what adds."""
    lines = [effect_line(effect) for effect in effects if effect.trait == trait and effect.player_id in {"", player_id}]
    if trait in SHARES:
        return np.prod([1.0 + line for line in lines], axis=0) if lines else np.ones(N_DAYS)
    return np.sum(lines, axis=0) if lines else np.zeros(N_DAYS)
