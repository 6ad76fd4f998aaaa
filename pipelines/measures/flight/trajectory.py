"""Integration of the ball's flight: classic Runge-Kutta of order 4, all shots of a chunk at once.

Frame: x to the target, y right of it, z up. Density is the same all along; wind may grow with height.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.air import wind_at_height
from pipelines.measures.flight.coefficients import CoefficientSet
from pipelines.measures.impact import BALL_MASS_KG, BALL_RADIUS_M

Floats = NDArray[np.float64]

GRAVITY_MPS2 = 9.81
SPIN_DECAY = 2.0e-5
"""Spin decay ``domega/dt = -2.0e-5 omega v / r``. Source: [SmitsSmith1994]; 2.5e-5 in [Tavares1999]."""
LONGEST_FLIGHT_S = 20.0


@dataclass(frozen=True)
class Launch:
    """Where a chunk of shots starts, arrays of one length.

    Attributes
    ----------
    velocity_mps : numpy.ndarray
        Shape (3, n).
    spin_radps : numpy.ndarray
        Shape (n,), zero or positive.
    spin_axis : numpy.ndarray
        Shape (3, n), unit vectors: the lift points along ``velocity x axis`` in this (left-handed) frame.
    air_density_kgpm3 : numpy.ndarray
        Shape (n,).
    wind_mps : numpy.ndarray
        Shape (3, n): velocity of the air, at the height of its measurement.
    """

    velocity_mps: Floats
    spin_radps: Floats
    spin_axis: Floats
    air_density_kgpm3: Floats
    wind_mps: Floats


@dataclass(frozen=True)
class Landing:
    """Where the shots of a chunk come down on the level of the tee; NaN where one does not within 20 s.

    Attributes
    ----------
    downrange_m, offline_m, apex_m, time_s : numpy.ndarray
        Shape (n,).
    velocity_mps : numpy.ndarray
        Shape (3, n).
    spin_radps : numpy.ndarray
        Shape (n,).
    """

    downrange_m: Floats
    offline_m: Floats
    apex_m: Floats
    time_s: Floats
    velocity_mps: Floats
    spin_radps: Floats


@dataclass(frozen=True)
class _Air:
    """What stays constant along one flight, reduced to the factors that the rates need."""

    axis: Floats
    wind: Floats
    force: Floats
    reynolds: Floats
    coefficients: CoefficientSet
    spin_decay: float
    wind_height_m: float | None

    def kept(self, rows: NDArray[np.bool_]) -> _Air:
        return _Air(
            self.axis[:, rows],
            self.wind[:, rows],
            self.force[rows],
            self.reynolds[rows],
            self.coefficients,
            self.spin_decay,
            self.wind_height_m,
        )

    def wind_at(self, height_m: Floats) -> Floats:
        """Wind at the height of each ball, shape (3, n)."""
        return self.wind if self.wind_height_m is None else wind_at_height(self.wind, self.wind_height_m, height_m)


def trajectory_landing(
    launch: Launch,
    coefficients: CoefficientSet,
    *,
    step_s: float = 0.1,
    spin_decay: float = SPIN_DECAY,
    dynamic_viscosity_pas: float = 1.813e-5,
    wind_height_m: float | None = None,
) -> Landing:
    """Landing of every shot of a chunk: drag, lift, spin decay, wind, no bounce.

    Parameters
    ----------
    launch : Launch
        n shots, all finite.
    coefficients : CoefficientSet
        Drag and lift against spin ratio and Reynolds number.
    step_s : float
        Time step [s].
    spin_decay : float
        Dimensionless rate of spin decay.
    dynamic_viscosity_pas : float
        Of the air [Pa s].
    wind_height_m : float or None
        Height of the wind's measurement [m]: wind grows with height as over short grass; None: the same at every height.

    Returns
    -------
    Landing
        n values each.

    Notes
    -----
    ``a = -(F_D/m) v̂ + (F_L/m) (ω̂ x v̂)/|ω̂ x v̂| - g ẑ`` with ``F = ½ rho pi r² C v²`` and v relative to the air; classic
    Runge-Kutta with the spin at each stage, landing by the root of the cubic Hermite polynomial of the last step: order 4.
    Source: [Penner2001], eqs 12-16; [Allen1998], eq. 47, for the wind. Checked: tests/published/test_flight.py.
    """
    grows_from = wind_height_m if launch.wind_mps.any() else None
    force = 0.5 * launch.air_density_kgpm3 * np.pi * BALL_RADIUS_M**2 / BALL_MASS_KG
    reynolds = launch.air_density_kgpm3 * (2.0 * BALL_RADIUS_M / dynamic_viscosity_pas)
    air = _Air(launch.spin_axis, launch.wind_mps, force, reynolds, coefficients, spin_decay, grows_from)
    moving = np.concatenate([launch.velocity_mps, launch.spin_radps[None, :]])
    return _march(moving, air, step_s)


def _march(moving: Floats, air: _Air, step: float) -> Landing:
    count = moving.shape[1]
    result = np.full((9, count), np.nan)  # x, y, apex, time, velocity (3), spin, spare
    position = np.zeros((3, count))
    rows = np.arange(count)
    for index in range(int(LONGEST_FLIGHT_S / step)):
        if rows.size == 0:
            break
        after, shift = _runge_kutta(position[2], moving, air, step)
        reached = position + shift
        _note_apex(result, rows, position, moving, after, reached, step)
        down = (reached[2] <= 0.0) & (after[2] < 0.0)
        if down.any():
            ends = (position[:, down], reached[:, down], moving[:, down], after[:, down])
            result[[0, 1, 3, 4, 5, 6, 7], rows[down][:, None]] = _landing(*ends, index * step, step).T
            keep = ~down
            rows, air = rows[keep], air.kept(keep)
            reached, after = reached[:, keep], after[:, keep]
        position, moving = reached, after
    result[2] = np.where(np.isnan(result[0]), np.nan, result[2])
    return Landing(result[0], result[1], result[2], result[3], result[4:7], result[7])


def _runge_kutta(height: Floats, moving: Floats, air: _Air, step: float) -> tuple[Floats, Floats]:
    half = 0.5 * step
    first = _rates(height, moving, air)
    after_first = moving + half * first
    second = _rates(height + half * moving[2], after_first, air)
    after_second = moving + half * second
    third = _rates(height + half * after_first[2], after_second, air)
    fourth = _rates(height + step * after_second[2], moving + step * third, air)
    middle = second + third
    # the position needs no rates of its own: its rate is the velocity, which the acceleration alone changes
    shift = step * moving[:3] + (step * step / 6.0) * (first[:3] + middle[:3])
    middle *= 2.0
    middle += first
    middle += fourth
    middle *= step / 6.0
    middle += moving
    return middle, shift


def _rates(height: Floats, moving: Floats, air: _Air) -> Floats:
    """Rates of velocity and spin, shape (4, n); written in place, since this is where all the time goes."""
    through = moving[:3] - air.wind_at(height)
    along, squared = _product(through, air.axis), _product(through, through)
    speed = np.sqrt(squared)
    drag, lift = air.coefficients(BALL_RADIUS_M * moving[3] / speed, air.reynolds * speed)
    lift *= air.force
    lift *= squared
    along *= along
    np.subtract(squared, along, out=along)
    lift /= np.sqrt(along, out=along)  # the lift stands square to velocity and axis: |axis x velocity|² = v² - along²
    rates = np.empty_like(moving)
    for row, (first, second) in enumerate(((1, 2), (2, 0), (0, 1))):
        np.multiply(through[first], air.axis[second], out=rates[row])
        rates[row] -= through[second] * air.axis[first]
    rates[:3] *= lift
    drag *= air.force
    drag *= speed
    through *= drag
    rates[:3] -= through
    rates[2] -= GRAVITY_MPS2
    np.multiply(moving[3], speed, out=rates[3])
    rates[3] *= -air.spin_decay / BALL_RADIUS_M
    return rates


def _product(first: Floats, second: Floats) -> Floats:
    """Inner product of each column; written out, so that the order of the sum does not depend on how many columns there are."""
    found: Floats = first[0] * second[0]
    found += first[1] * second[1]
    found += first[2] * second[2]
    return found


def _note_apex(
    result: Floats,
    rows: NDArray[np.intp],
    position: Floats,
    before: Floats,
    after: Floats,
    reached: Floats,
    step: float,
) -> None:
    turned = (before[2] > 0.0) & (after[2] <= 0.0)
    if not turned.any():
        return
    low, high = position[2, turned], reached[2, turned]
    rise, fall = step * before[2, turned], step * after[2, turned]
    # slope of the Hermite cubic: rise + 2 b s + 3 c s²; the root near the zero of the linear speed, by Newton
    b, c = 3.0 * (high - low) - 2.0 * rise - fall, 2.0 * (low - high) + rise + fall
    share = rise / (rise - fall)
    for _ in range(4):
        share = share - (rise + share * (2.0 * b + 3.0 * c * share)) / (2.0 * b + 6.0 * c * share)
    result[2, rows[turned]] = low + share * (rise + share * (b + share * c))


def _landing(position: Floats, reached: Floats, before: Floats, after: Floats, started_s: float, step: float) -> Floats:
    rise, fall = step * before[:3], step * after[:3]
    b, c = 3.0 * (reached - position) - 2.0 * rise - fall, 2.0 * (position - reached) + rise + fall
    share = position[2] / (position[2] - reached[2])
    for _ in range(6):
        height = position[2] + share * (rise[2] + share * (b[2] + share * c[2]))
        share = share - height / (rise[2] + share * (2.0 * b[2] + 3.0 * c[2] * share))
    place = position[:2] + share * (rise[:2] + share * (b[:2] + share * c[:2]))
    velocity = (rise + share * (2.0 * b + 3.0 * c * share)) / step
    spin = before[3] + share * (after[3] - before[3])
    return np.vstack([place, started_s + share * step, velocity, spin])
