"""How much distance a metre per second of club speed is worth to a player, from the flight and run models."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.bounce import run_m
from pipelines.measures.flight import fly

Floats = NDArray[np.float64]

_DIGITS = 9


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


def distances_per_speed(
    club_speed_mps: Floats, speed_ratio: Floats, launch_deg: Floats, spin_rpm: Floats
) -> list[DistancePerSpeed | None]:
    """Metres per m/s of club speed around the own delivery of each of n players; None outside the models' ranges.

    Notes
    -----
    Slope between 1 m/s less and 1 m/s more, launch and spin held. About 5 to 7 m per m/s of club speed for drivers. To a
    millionth of a millimetre, so that it does not tell who was computed beside whom.
    Source: [Penner2001], [USPatent6186002]. Checked: tests/published/test_flight.py.
    """
    around = club_speed_mps + np.array([[-1.0], [1.0]])
    launch, spin = (np.tile(one, 2) for one in (launch_deg, spin_rpm))
    flight = fly((around * speed_ratio).ravel(), launch, 0.0, spin, 0.0)
    run = run_m(flight.landing_speed_mps, flight.descent_deg, flight.landing_spin_rpm)
    both = np.stack([flight.carry_m, flight.carry_m + run]).reshape(2, 2, -1)
    carry, total = ((both[:, 1] - both[:, 0]) / 2.0).round(_DIGITS)
    known = ~np.isnan(both[1]).any(axis=0)
    return [
        DistancePerSpeed(float(of_carry), float(of_total)) if is_known else None
        for of_carry, of_total, is_known in zip(carry, total, known, strict=True)
    ]
