"""Flights of reported shots: ranges checked, missing values kept missing with a reason, chunks of ten thousand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

from pipelines.measures.air import REFERENCE_DENSITY_KGPM3
from pipelines.measures.flight.coefficients import CoefficientSet, usga_coefficients
from pipelines.measures.flight.trajectory import SPIN_DECAY, Landing, Launch, trajectory_landing

Floats = NDArray[np.float64]
Texts = NDArray[np.str_]

CHUNK = 10_000
BALL_SPEED_LIMITS_MPS = (15.0, 100.0)
LAUNCH_LIMITS_DEG = (0.5, 60.0)
SPIN_LIMITS_RPM = (500.0, 13_000.0)
DENSITY_LIMITS_KGPM3 = (0.8, 1.5)
WIND_LIMIT_MPS = 20.0

REASONS: dict[str, str] = {
    "no_ball_speed": "no ball speed was measured",
    "no_launch": "no launch angle was measured",
    "no_spin": "no spin was measured",
    "ball_speed_out_of_range": "ball speed outside 15 to 100 m/s",
    "launch_out_of_range": "launch angle outside 0.5 to 60°",
    "spin_out_of_range": "spin outside 500 to 13,000 rpm",
    "air_out_of_range": "air density outside 0.8 to 1.5 kg/m³, or wind above 20 m/s",
    "no_landing": "the computed ball does not come down within 20 s",
}


@dataclass(frozen=True)
class Flight:
    """Computed flights, one value per shot; NaN where ``reason`` is not empty (``frame()`` turns it into null).

    Attributes
    ----------
    carry_m : numpy.ndarray
        Distance to the landing point along the target line [m].
    offline_m : numpy.ndarray
        Landing point right (+) or left (-) of the target line [m]; NaN also when direction or spin axis is missing.
    apex_m, time_s : numpy.ndarray
        Greatest height [m] and time in the air [s].
    descent_deg, landing_speed_mps, landing_spin_rpm : numpy.ndarray
        Angle below the ground's level [°], speed [m/s] and spin [rpm] at landing.
    reason : numpy.ndarray
        Code out of :data:`REASONS`, empty when computed.
    """

    carry_m: Floats
    offline_m: Floats
    apex_m: Floats
    time_s: Floats
    descent_deg: Floats
    landing_speed_mps: Floats
    landing_spin_rpm: Floats
    reason: Texts

    def frame(self) -> pl.DataFrame:
        """All columns as a frame, null where there is no value."""
        floats = {
            name: pl.Series(name, getattr(self, name)).fill_nan(None) for name in self.__dataclass_fields__ if name != "reason"
        }
        return pl.DataFrame({**floats, "reason": pl.Series(self.reason.astype(object), dtype=pl.String)})


def fly(
    ball_speed_mps: ArrayLike,
    launch_deg: ArrayLike,
    direction_deg: ArrayLike = 0.0,
    spin_rpm: ArrayLike = 2700.0,
    spin_axis_deg: ArrayLike = 0.0,
    air_density_kgpm3: ArrayLike = REFERENCE_DENSITY_KGPM3,
    wind_mps: ArrayLike = 0.0,
    wind_from_deg: ArrayLike = 0.0,
    *,
    coefficients: CoefficientSet = usga_coefficients,
    step_s: float = 0.1,
    spin_decay: float = SPIN_DECAY,
    wind_height_m: float | None = None,
) -> Flight:
    """Carry, offline, apex, time, descent and landing of shots over level ground in air of one density.

    Parameters
    ----------
    ball_speed_mps, launch_deg, direction_deg, spin_rpm, spin_axis_deg : array_like
        Ball speed [m/s], launch above the ground [°], start direction right of target [°], spin [rpm] and tilt of the
        spin axis to the right [°]. Shapes broadcast to (n,). NaN is a missing value: without ball speed, launch or spin the
        shot has no flight; without direction or axis it has no offline.
    air_density_kgpm3 : array_like
        [kg/m³], by default 20 °C, 1013.25 hPa, 50 % humidity.
    wind_mps, wind_from_deg : array_like
        Speed [m/s] and where it comes from, clockwise from the target line [°]: 0 head wind, 90 from the right.
    coefficients : CoefficientSet
        See :mod:`pipelines.measures.flight.coefficients`.
    step_s, spin_decay : float
        Time step [s] and rate of spin decay.
    wind_height_m : float or None
        Height at which the wind was measured [m]; over and under it the wind is that over short grass. None: the same wind at
        every height.

    Returns
    -------
    Flight
        n values each, with a reason where there is none.

    Raises
    ------
    ValueError
        When the shapes do not broadcast to one dimension.

    Notes
    -----
    Within the stated ranges; the model without the ball's own fit is good to 3 to 4 % of carry. Source: [Penner2001],
    [USPatent6186002]; wind: [Allen1998]. Checked: tests/published/test_flight.py.
    """
    given = (
        ball_speed_mps,
        launch_deg,
        direction_deg,
        spin_rpm,
        spin_axis_deg,
        air_density_kgpm3,
        wind_mps,
        wind_from_deg,
    )
    columns = np.broadcast_arrays(*(np.atleast_1d(np.asarray(value, dtype=np.float64)) for value in given))
    if columns[0].ndim != 1:
        raise ValueError("shots must be given as one-dimensional arrays")
    reason = _reasons(columns[0], columns[1], columns[3], columns[5], columns[6])
    flights = np.full((7, columns[0].size), np.nan)
    rows = np.flatnonzero(reason == "")
    for start in range(0, rows.size, CHUNK):
        chunk = rows[start : start + CHUNK]
        launch = _launch(*(column[chunk] for column in columns))
        landed = trajectory_landing(launch, coefficients, step_s=step_s, spin_decay=spin_decay, wind_height_m=wind_height_m)
        flights[:, chunk] = _figures(landed)
    reason[(reason == "") & np.isnan(flights[0])] = "no_landing"
    flights[1, np.isnan(columns[2]) | np.isnan(columns[4])] = np.nan
    carry, offline, apex, time, descent, speed, spin = flights
    return Flight(carry, offline, apex, time, descent, speed, spin, reason)


def _reasons(ball_speed: Floats, launch: Floats, spin: Floats, density: Floats, wind: Floats) -> Texts:
    return np.select(
        [
            np.isnan(ball_speed),
            np.isnan(launch),
            np.isnan(spin),
            _outside(ball_speed, BALL_SPEED_LIMITS_MPS),
            _outside(launch, LAUNCH_LIMITS_DEG),
            _outside(spin, SPIN_LIMITS_RPM),
            _outside(density, DENSITY_LIMITS_KGPM3) | ~(np.abs(wind) <= WIND_LIMIT_MPS),
        ],
        list(REASONS)[:7],
        default=np.full(ball_speed.shape, "", dtype="<U24"),
    )


def _outside(values: Floats, limits: tuple[float, float]) -> NDArray[np.bool_]:
    return ~((values >= limits[0]) & (values <= limits[1]))


def _launch(
    ball_speed: Floats,
    launch_deg: Floats,
    direction_deg: Floats,
    spin_rpm: Floats,
    axis_deg: Floats,
    density: Floats,
    wind: Floats,
    wind_from_deg: Floats,
) -> Launch:
    up, heading = np.radians(launch_deg), np.radians(np.nan_to_num(direction_deg))
    tilt, source = np.radians(np.nan_to_num(axis_deg)), np.radians(np.nan_to_num(wind_from_deg))
    level = ball_speed * np.cos(up)
    return Launch(
        velocity_mps=np.stack([level * np.cos(heading), level * np.sin(heading), ball_speed * np.sin(up)]),
        spin_radps=spin_rpm * (np.pi / 30.0),
        spin_axis=np.stack([-np.cos(tilt) * np.sin(heading), np.cos(tilt) * np.cos(heading), -np.sin(tilt)]),
        air_density_kgpm3=density,
        wind_mps=np.stack([-wind * np.cos(source), -wind * np.sin(source), np.zeros_like(wind)]),
    )


def _figures(landing: Landing) -> Floats:
    level = np.hypot(landing.velocity_mps[0], landing.velocity_mps[1])
    return np.stack(
        [
            landing.downrange_m,
            landing.offline_m,
            landing.apex_m,
            landing.time_s,
            np.degrees(np.arctan2(-landing.velocity_mps[2], level)),
            np.hypot(level, landing.velocity_mps[2]),
            landing.spin_radps * (30.0 / np.pi),
        ]
    )
