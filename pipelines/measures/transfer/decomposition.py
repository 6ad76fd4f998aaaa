"""Where a gain of club speed goes on its way to carry: a decomposition whose parts add up to the measured change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import factorial

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.flight import CoefficientSet, fly, usga_coefficients

Floats = NDArray[np.float64]

PARTS: tuple[str, ...] = ("club_speed", "strike", "speed_ratio", "launch", "spin")


@dataclass(frozen=True)
class Delivery:
    """What a group of shots had on average.

    Attributes
    ----------
    club_speed_mps, speed_ratio, launch_deg, spin_rpm : float
        Club speed [m/s], ball speed over club speed, launch [°], spin [rpm].
    strike_loss : float or None
        Mean share of ball speed lost to strikes off the middle; None when the strike was not measured.
    carry_m : float or None
        Comparable carry [m].
    """

    club_speed_mps: float
    speed_ratio: float
    launch_deg: float
    spin_rpm: float
    strike_loss: float | None = None
    carry_m: float | None = None


@dataclass(frozen=True)
class Transfer:
    """Change of carry between two groups of shots, in parts [m] that add up to ``carry_change_m``.

    Attributes
    ----------
    on_offer_m : float
        What the change of club speed alone would give: the part of ``club_speed``.
    strike_m, speed_ratio_m, launch_m, spin_m : float
        What came on top or was lost; ``strike_m`` is 0 with ``strike_known`` false when the strike was not measured: it is
        then part of ``speed_ratio_m``.
    rest_m : float
        What the flight model does not explain: ball, air, measurement.
    carry_change_m : float
        Measured change of comparable carry, or the modelled one where no carry was measured (then ``rest_m`` is 0).
    arrived_share : float or None
        ``carry_change_m / on_offer_m``; None when the speed changed by less than 0.3 m/s.
    strike_known : bool
    """

    on_offer_m: float
    strike_m: float
    speed_ratio_m: float
    launch_m: float
    spin_m: float
    rest_m: float
    carry_change_m: float
    arrived_share: float | None
    strike_known: bool


SMALLEST_SPEED_CHANGE_MPS = 0.3


def transfers(
    pairs: Sequence[tuple[Delivery, Delivery]], coefficients: CoefficientSet = usga_coefficients
) -> list[Transfer | None]:
    """Change of carry from one group of shots to another, shared out to club speed, strike, speed ratio, launch and spin.

    Parameters
    ----------
    pairs : sequence of (Delivery, Delivery)
        Averages of the group before and the group after.
    coefficients : CoefficientSet
        Flight model.

    Returns
    -------
    list of Transfer or None
        None when a modelled flight is outside the model's range (reason ``flight_out_of_range``).

    Notes
    -----
    Each part is the average, over all orders of changing the five quantities, of the change in modelled carry when that one
    changes (Shapley value): the parts add up to the modelled change exactly, whatever the order. ``rest_m`` is the measured
    less the modelled change. Checked: tests/property/test_transfer.py.
    """
    if not pairs:
        return []
    levels = [_levels_of(before, after) for before, after in pairs]
    carry = _carry_of_mixtures(np.array([a for a, _ in levels]), np.array([b for _, b in levels]), coefficients)
    return [_transfer(before, after, row) for (before, after), row in zip(pairs, carry, strict=True)]


def _transfer(before: Delivery, after: Delivery, carry: Floats) -> Transfer | None:
    if np.isnan(carry).any():
        return None
    parts = _shapley(carry)
    modelled = float(carry[-1] - carry[0])
    measured = modelled if before.carry_m is None or after.carry_m is None else after.carry_m - before.carry_m
    moved = abs(after.club_speed_mps - before.club_speed_mps) >= SMALLEST_SPEED_CHANGE_MPS
    return Transfer(
        on_offer_m=parts[0],
        strike_m=parts[1],
        speed_ratio_m=parts[2],
        launch_m=parts[3],
        spin_m=parts[4],
        rest_m=measured - modelled,
        carry_change_m=measured,
        arrived_share=measured / parts[0] if moved else None,
        strike_known=before.strike_loss is not None and after.strike_loss is not None,
    )


def _levels_of(before: Delivery, after: Delivery) -> tuple[Floats, Floats]:
    known = before.strike_loss is not None and after.strike_loss is not None
    return _levels(before, known=known), _levels(after, known=known)


def _levels(delivery: Delivery, *, known: bool) -> Floats:
    kept = 1.0 - (delivery.strike_loss or 0.0) if known else 1.0
    return np.array([delivery.club_speed_mps, kept, delivery.speed_ratio / kept, delivery.launch_deg, delivery.spin_rpm])


def _mixtures() -> NDArray[np.bool_]:
    """Every choice of which quantities have changed, shape (32, 5); the index of a row is its binary number."""
    return np.array(list(product([False, True], repeat=len(PARTS))))


def _carry_of_mixtures(start: Floats, end: Floats, coefficients: CoefficientSet) -> Floats:
    """Modelled carry of every mixture, shape (n, 32), from levels of shape (n, 5)."""
    mixed = np.where(_mixtures(), end[:, None, :], start[:, None, :]).reshape(-1, len(PARTS))
    speed, strike, ratio, launch, spin = mixed.T
    flown = fly(speed * strike * ratio, launch, 0.0, spin, 0.0, coefficients=coefficients, step_s=0.2)
    return flown.carry_m.reshape(len(start), -1)


def _shapley(carry: Floats) -> list[float]:
    chosen = _mixtures()
    size = len(PARTS)
    weight = 2 ** np.arange(size)[::-1]
    parts = []
    for part in range(size):
        without = chosen[~chosen[:, part]]
        index = without @ weight
        order = np.array([factorial(k) * factorial(size - k - 1) / factorial(size) for k in without.sum(axis=1)])
        parts.append(float(order @ (carry[index + weight[part]] - carry[index])))
    return parts
