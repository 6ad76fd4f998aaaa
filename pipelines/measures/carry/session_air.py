"""The air in which a session's balls flew, from what was measured there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.air import moist_air_density_kgpm3, pressure_at_altitude_pa

if TYPE_CHECKING:
    from schemas.academy import ReferenceAir

ASSUMED_HUMIDITY_PCT = 50.0
"""Humidity moves carry by less than a metre over its whole range; where it is missing, this stands in."""


def reference_density_kgpm3(air: ReferenceAir) -> float:
    """Density [kg/m³] of the academy's reference air."""
    return float(moist_air_density_kgpm3(air.temp_c, air.pressure_hpa * 100.0, air.humidity_pct))


def air_density_by_shot(shots: pl.DataFrame, altitude_m: float) -> np.ndarray:
    """Density [kg/m³] of each shot's air, shape (n,); NaN where the temperature is unknown.

    Parameters
    ----------
    shots : polars.DataFrame
        Columns air_temp_c, air_pressure_hpa, humidity_pct, altitude_m; null where not measured.
    altitude_m : float
        Altitude of the academy, for sessions that name none; it stands in for a pressure that was not measured.

    Notes
    -----
    Pressure from altitude is good to the weather (about 2 %, 1 % of carry). Source: [ISO2533], [Picard2008].
    Checked: tests/published/test_air.py.
    """
    altitude = shots["altitude_m"].fill_null(altitude_m).to_numpy()
    measured = shots["air_pressure_hpa"].cast(pl.Float64).fill_null(float("nan")).to_numpy() * 100.0
    pressure = np.where(np.isnan(measured), pressure_at_altitude_pa(altitude), measured)
    humidity = shots["humidity_pct"].fill_null(ASSUMED_HUMIDITY_PCT).to_numpy()
    temperature = shots["air_temp_c"].cast(pl.Float64).fill_null(float("nan")).to_numpy()
    return moist_air_density_kgpm3(temperature, pressure, humidity)
