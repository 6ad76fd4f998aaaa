"""What the season's phases did for speed and scatter in the same months, to set beside a technique trial."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

Floats = NDArray[np.float64]

LEAST_SESSIONS = 5
LEAST_DAYS = 14


@dataclass(frozen=True)
class Phase:
    """Weeks in a row with the same phase in the plan.

    Attributes
    ----------
    name : str
    began_on, ended_on : date
        Both inclusive.
    """

    name: str
    began_on: date
    ended_on: date


@dataclass(frozen=True)
class PhaseChange:
    """Change of one measurement from the first to the last day of a phase.

    Attributes
    ----------
    n_sessions : int
    change, low, high : float
        With a 90 % interval, in the unit of the measurement.
    rising : float
        Probability that it rose.
    """

    n_sessions: int
    change: float
    low: float
    high: float
    rising: float


def phase_change(days: Floats, values: Floats, weights: Floats, length_days: float) -> PhaseChange | None:
    """Change over a phase from a straight line through its session means.

    Parameters
    ----------
    days : array (k,)
        Day of each session since the phase began.
    values : array (k,)
        Session means.
    weights : array (k,)
        Above 0; sessions with more shots weigh more.
    length_days : float
        Length of the phase.

    Returns
    -------
    PhaseChange or None
        None with fewer than 5 sessions, or when they span less than 14 days.

    Notes
    -----
    Weighted least squares, t interval with k - 2 degrees of freedom. Other things change in the same weeks: the line says what
    went along with a phase, not what the phase caused. Checked: tests/unit/test_trial_since.py
    """
    if len(days) < LEAST_SESSIONS or float(np.ptp(days)) < LEAST_DAYS:
        return None
    centre = float(weights @ days / weights.sum())
    spread = float(weights @ (days - centre) ** 2)
    level = float(weights @ values / weights.sum())
    slope = float(weights @ ((days - centre) * values)) / spread
    residual = values - level - slope * (days - centre)
    df = len(days) - 2
    error = float(np.sqrt(float(weights @ residual**2) / df / spread)) * length_days
    change = slope * length_days
    reach = float(stdtrit(df, 0.95)) * error
    rising = float(stdtr(df, change / error)) if error > 0 else float(change > 0)
    return PhaseChange(len(days), change, change - reach, change + reach, rising)
