"""Air: density of moist air, the standard atmosphere, pressure from altitude, viscosity, wind over height.

Every function takes floats or arrays of one shape and returns the same shape. A missing input is NaN in, NaN out;
the stage turns NaN into null with a reason before anything is stored.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

STANDARD_GRAVITY_MPS2 = 9.80665
ISA_SEA_LEVEL_K = 288.15
ISA_SEA_LEVEL_PA = 101325.0
ISA_LAPSE_KPM = 0.0065
DRY_AIR_GAS_CONSTANT_JPKGK = 287.05287
CARBON_DIOXIDE_MOLE_FRACTION = 0.0004


def standard_temperature_k(altitude_m: ArrayLike) -> Floats:
    """Temperature [K] of the International Standard Atmosphere at a geopotential altitude [m], up to 11 km.

    Notes
    -----
    ``T = 288.15 - 0.0065 h``. Valid -1 to 11 km. Source: [ISO2533].
    Checked: tests/published/test_air.py.
    """
    return ISA_SEA_LEVEL_K - ISA_LAPSE_KPM * np.asarray(altitude_m, dtype=np.float64)


def pressure_at_altitude_pa(altitude_m: ArrayLike) -> Floats:
    """Pressure [Pa] of the International Standard Atmosphere at a geopotential altitude [m], up to 11 km.

    Stands in for the pressure of the day when only the altitude of a place is known.

    Notes
    -----
    ``p = 101325 (T/288.15)^(g/(R L))``. Weather moves the true value by about 2 %. Source: [ISO2533].
    Checked: tests/published/test_air.py.
    """
    exponent = STANDARD_GRAVITY_MPS2 / (DRY_AIR_GAS_CONSTANT_JPKGK * ISA_LAPSE_KPM)
    pressure: Floats = ISA_SEA_LEVEL_PA * (standard_temperature_k(altitude_m) / ISA_SEA_LEVEL_K) ** exponent
    return pressure


def saturation_vapour_pressure_pa(temperature_c: ArrayLike) -> Floats:
    """Saturation vapour pressure [Pa] of water at an air temperature [°C].

    Notes
    -----
    ``psv = exp(A T² + B T + C + D/T)`` with T in kelvin. Source: [Picard2008], eq. A1.1.
    Checked: tests/published/test_air.py.
    """
    kelvin = np.asarray(temperature_c, dtype=np.float64) + 273.15
    vapour: Floats = np.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin)
    return vapour


def moist_air_density_kgpm3(temperature_c: ArrayLike, pressure_pa: ArrayLike, humidity_pct: ArrayLike = 50.0) -> Floats:
    """Density [kg/m³] of moist air by the CIPM-2007 equation, with 400 ppm carbon dioxide.

    Parameters
    ----------
    temperature_c, pressure_pa, humidity_pct : array_like
        Air temperature [°C], pressure [Pa], relative humidity [%]; shapes broadcast. NaN in, NaN out.

    Returns
    -------
    numpy.ndarray
        Density [kg/m³].

    Notes
    -----
    ``rho = [3.483740 + 1.4446 (xCO2 - 0.0004)] 1e-3 p/(Z T) (1 - 0.3780 xv)``; the compressibility factor Z is that
    of the same paper. The equation is stated for 15 to 27 °C and 600 to 1100 hPa; outside, its error stays far below
    that of a flight (at 0 °C it meets the ideal-gas value to 0.06 %). Source: [Picard2008].
    Checked: tests/published/test_air.py.
    """
    celsius = np.asarray(temperature_c, dtype=np.float64)
    pressure = np.asarray(pressure_pa, dtype=np.float64)
    kelvin = celsius + 273.15
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2
    vapour = np.asarray(humidity_pct, dtype=np.float64) / 100.0 * enhancement * saturation_vapour_pressure_pa(celsius) / pressure
    density: Floats = (
        (3.483740 + 1.4446 * (CARBON_DIOXIDE_MOLE_FRACTION - 0.0004))
        * 1e-3
        * pressure
        / (_compressibility(celsius, pressure, vapour) * kelvin)
        * (1.0 - 0.3780 * vapour)
    )
    return density


def _compressibility(celsius: Floats, pressure: Floats, vapour: Floats) -> Floats:
    kelvin = celsius + 273.15
    ratio = pressure / kelvin
    first: Floats = (
        1.58123e-6
        - 2.9331e-8 * celsius
        + 1.1043e-10 * celsius**2
        + (5.707e-6 - 2.051e-8 * celsius) * vapour
        + (1.9898e-4 - 2.376e-6 * celsius) * vapour**2
    )
    return 1.0 - ratio * first + ratio**2 * (1.83e-11 - 0.765e-8 * vapour**2)


GRASS_PER_M, GRASS_DISPLACED = 67.8, 5.42
"""Short grass of 12 cm: one over its roughness length of 0.0148 m [1/m], and its displacement of 0.08 m over that length."""


def wind_at_height(wind_mps: ArrayLike, measured_at_m: float, height_m: ArrayLike) -> Floats:
    """Wind [m/s] at a height over open short grass, from the wind measured at another.

    Parameters
    ----------
    wind_mps : array_like
        Measured wind [m/s]. NaN in, NaN out.
    measured_at_m : float
        Height of the meter above the ground [m], 0.5 or more.
    height_m : array_like
        Where the wind is wanted [m]; shapes broadcast.

    Returns
    -------
    numpy.ndarray
        Wind [m/s].

    Notes
    -----
    ``u(z) ln(67.8 h - 5.42) = u(h) ln(67.8 z - 5.42)``, the logarithmic profile of neutral air over open short grass, 0 below
    0.095 m. Between trees, in gusts and in strong sun the true profile differs. Source: [Allen1998], eq. 47.
    Checked: tests/published/test_air.py.
    """
    wind: Floats = np.asarray(wind_mps, dtype=np.float64) * (_wind_log(height_m) / _wind_log(measured_at_m))
    return wind


def _wind_log(height_m: ArrayLike) -> Floats:
    return np.log(np.maximum(GRASS_PER_M * np.asarray(height_m, dtype=np.float64) - GRASS_DISPLACED, 1.0))


REFERENCE_DENSITY_KGPM3 = float(moist_air_density_kgpm3(20.0, ISA_SEA_LEVEL_PA, 50.0))
"""Still air of 20 °C, 1013.25 hPa and 50 % humidity: assumed where no air is given. Carry is restated for the academy's own."""
