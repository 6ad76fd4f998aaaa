"""How much distance a metre per second of club speed is worth to a player, from the flight and run models."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.bounce import run_m
from pipelines.measures.flight import fly

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class DistancePerSpeed:
    """Distance per club speed at a player's own delivery.

    Attributes
    ----------
    carry_m_per_mps, total_m_per_mps : float
        Metres of carry and of total per m/s of club speed.
    """

    carry_m_per_mps: float
    total_m_per_mps: float


def distance_per_speed(club_speed_mps: float, speed_ratio: float, launch_deg: float, spin_rpm: float) -> DistancePerSpeed | None:
    """Metres per m/s of club speed around a player's own delivery; None outside the models' ranges.

    Notes
    -----
    Slope between 1 m/s less and 1 m/s more, launch and spin held. About 5 to 7 m per m/s of club speed for drivers.
    Source: [Penner2001], [USPatent6186002]. Checked: tests/published/test_flight.py.
    """
    around = club_speed_mps + np.array([-1.0, 1.0])
    flight = fly(around * speed_ratio, launch_deg, 0.0, spin_rpm, 0.0)
    run = run_m(flight.landing_speed_mps, flight.descent_deg, flight.landing_spin_rpm)
    total = flight.carry_m + run
    if np.isnan(total).any():
        return None
    return DistancePerSpeed(float(np.diff(flight.carry_m)[0] / 2.0), float(np.diff(total)[0] / 2.0))
