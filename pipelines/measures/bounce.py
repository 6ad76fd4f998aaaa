"""Bounce and run of a ball on fairway turf after its landing: two published models."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipelines.measures.impact import BALL_RADIUS_M

Floats = NDArray[np.float64]

GRAVITY_MPS2 = 9.81
ROLLING = 0.131
LAST_HOP_M = 0.005
MOST_BOUNCES = 40
LANDING_SPEED_LIMITS_MPS = (5.0, 45.0)
DESCENT_LIMITS_DEG = (10.0, 75.0)


@dataclass(frozen=True)
class Turf:
    """How one bounce goes.

    Attributes
    ----------
    tilt_rad : callable
        From speed [m/s] and incidence from the vertical [rad], the tilt of the dented surface [rad].
    restitution : callable
        From the speed into the surface [m/s].
    friction : float
        Sliding friction.
    """

    tilt_rad: Callable[[Floats, Floats], Floats]
    restitution: Callable[[Floats], Floats]
    friction: float


def _penner_tilt(speed: Floats, incidence: Floats) -> Floats:
    tilt: Floats = np.radians(15.4) * (speed / 18.6) * (np.degrees(incidence) / 44.4)
    return tilt


def _penner_restitution(normal_speed: Floats) -> Floats:
    curve = 0.510 - 0.0375 * normal_speed + 0.000903 * normal_speed**2
    return np.where(normal_speed <= 20.0, curve, 0.120)


def fixed_turf(tilt_deg: float, restitution: float, friction: float) -> Turf:
    """A turf with one tilt [°], restitution and friction for every bounce."""
    return Turf(
        tilt_rad=lambda speed, _: np.full_like(speed, np.radians(tilt_deg)),
        restitution=lambda speed: np.full_like(speed, restitution),
        friction=friction,
    )


PENNER_TURF = Turf(_penner_tilt, _penner_restitution, 0.40)
"""Tilt ``15.4° (v/18.6)(theta/44.4°)``; restitution ``.510 - .0375 v + .000903 v²``, .120 above 20 m/s; friction .40 (from
memory). Theta is read as the incidence from the surface's normal: from the ground, drives would run 57 to 90 yards, against
28 to 32 here, in line with the second model. Source: [Penner2002]."""

NATURAL_TURF = fixed_turf(18.4, 0.147, 0.998)
ARTIFICIAL_TURF = fixed_turf(12.9, 0.420, 0.852)
"""Fits to more than a thousand bounces at 16 to 28 m/s. Source: [Biber2023]."""


def run_m(landing_speed_mps: ArrayLike, descent_deg: ArrayLike, landing_spin_rpm: ArrayLike, turf: Turf = PENNER_TURF) -> Floats:
    """Bounce and run [m] after the landing, along the ball's line, on level turf.

    Parameters
    ----------
    landing_speed_mps, descent_deg, landing_spin_rpm : array_like
        Speed [m/s], angle below the horizontal [°], backspin [rpm]; shapes broadcast to (n,).
    turf : Turf
        See :data:`PENNER_TURF`, :data:`NATURAL_TURF`, :data:`ARTIFICIAL_TURF`.

    Returns
    -------
    numpy.ndarray
        Shape (n,) [m]; NaN for a missing value and outside 5 to 45 m/s or 10 to 75°.

    Notes
    -----
    The surface tilts by the dent; into it the ball keeps a share ``e`` of its speed, along it friction slips or grips:
    ``u' = u - mu |vn| (1 + e)`` or ``u' = 5u/7 - 2 r omega/7``. Hops without air until one is below 5 mm, then rolling with
    ``a = (5/7) 0.131 g``. For drives and long irons; balls that spin back on a green are outside it. Wet or soft ground takes
    4 to 10 yards off. Source: [Penner2002], [Biber2023]. Checked: tests/published/test_bounce.py.
    """
    speed, descent, spin = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in (landing_speed_mps, descent_deg, landing_spin_rpm))
    )
    valid = (
        (speed >= LANDING_SPEED_LIMITS_MPS[0])
        & (speed <= LANDING_SPEED_LIMITS_MPS[1])
        & (descent >= DESCENT_LIMITS_DEG[0])
        & (descent <= DESCENT_LIMITS_DEG[1])
        & np.isfinite(spin)
    )
    down = np.radians(descent[valid])
    run = np.full(speed.shape, np.nan)
    run[valid] = _run(speed[valid] * np.cos(down), -speed[valid] * np.sin(down), spin[valid] * (np.pi / 30.0), turf)
    return run


def _run(forward: Floats, upward: Floats, spin: Floats, turf: Turf) -> Floats:
    distance, rolling = np.zeros_like(forward), np.empty_like(forward)
    hopping = np.arange(forward.size)  # the balls that still hop: most have long ended when the last one does
    for _ in range(MOST_BOUNCES):
        forward, upward, spin = _bounce(forward, upward, spin, turf)
        goes_on = upward * upward / (2.0 * GRAVITY_MPS2) > LAST_HOP_M
        rolling[hopping] = forward
        hopping, forward, upward, spin = hopping[goes_on], forward[goes_on], upward[goes_on], spin[goes_on]
        if not hopping.size:
            break
        # a hop over level ground comes down as fast as it went up
        distance[hopping] += forward * 2.0 * upward / GRAVITY_MPS2
        upward = -upward
    braking = (5.0 / 7.0) * ROLLING * GRAVITY_MPS2
    return distance + np.sign(rolling) * rolling**2 / (2.0 * braking)


def _bounce(forward: Floats, upward: Floats, spin: Floats, turf: Turf) -> tuple[Floats, Floats, Floats]:
    speed = np.hypot(forward, upward)
    incidence = np.arctan2(np.abs(forward), np.abs(upward))
    tilt = turf.tilt_rad(speed, incidence) * np.sign(forward)
    sine, cosine = np.sin(tilt), np.cos(tilt)
    into = np.abs(-forward * sine + upward * cosine)
    along = forward * cosine + upward * sine
    restitution = turf.restitution(into)
    contact = along + BALL_RADIUS_M * spin
    grip = turf.friction * (1.0 + restitution) * into
    slips = np.abs(contact) * (2.0 / 7.0) > grip
    slipped = along - np.sign(contact) * grip
    rolled = 5.0 * along / 7.0 - 2.0 * BALL_RADIUS_M * spin / 7.0
    away, out = np.where(slips, slipped, rolled), restitution * into
    turned = np.where(slips, spin - 2.5 * np.sign(contact) * grip / BALL_RADIUS_M, -rolled / BALL_RADIUS_M)
    return away * cosine - out * sine, away * sine + out * cosine, turned
