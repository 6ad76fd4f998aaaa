"""ISO 2533 (from memory; reproduced by its formula) and CIPM-2007 (constants partly second-hand, partly from memory)."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipelines.measures.air import (
    moist_air_density_kgpm3,
    pressure_at_altitude_pa,
    saturation_vapour_pressure_pa,
    standard_temperature_k,
    wind_at_height,
)
from pipelines.measures.carry.session_air import air_density_by_shot

ALTITUDES_M = (0, 500, 1000, 1500, 2000, 2500, 3000)
ISA_DENSITY = (1.22500, 1.16727, 1.11164, 1.05807, 1.00649, 0.95686, 0.90912)  # ISO 2533, from memory
ISA_PRESSURE = (101325.0, 95460.8, 89874.6, 84556.0, 79495.2, 74682.5, 70108.5)  # ISO 2533, from memory


@pytest.mark.parametrize(("altitude", "density"), list(zip(ALTITUDES_M, ISA_DENSITY, strict=True)))
def test_dry_air_at_the_pressure_and_temperature_of_an_altitude(altitude: float, density: float) -> None:
    # two standards, one air: .04 % apart at sea level (28.9644 g/mol against 400 ppm CO2 and a real gas), .06 % at 3000 m
    celsius = float(standard_temperature_k(altitude)) - 273.15
    found = float(moist_air_density_kgpm3(celsius, float(pressure_at_altitude_pa(altitude)), 0.0))
    assert found == pytest.approx(density, rel=8e-4)


@pytest.mark.parametrize(("altitude", "pressure"), list(zip(ALTITUDES_M, ISA_PRESSURE, strict=True)))
def test_pressure_of_the_standard_atmosphere(altitude: float, pressure: float) -> None:
    assert float(pressure_at_altitude_pa(altitude)) == pytest.approx(pressure, abs=0.15)


def test_dry_air_of_15_degrees_meets_the_standard_atmosphere() -> None:
    # two standards, one air: 1.2250 by ISO 2533 (28.9644 g/mol), 1.2255 by CIPM-2007 (400 ppm CO2, real gas): 0.04 % apart
    assert float(moist_air_density_kgpm3(15.0, 101325.0, 0.0)) == pytest.approx(1.2250, rel=6e-4)


def test_dry_air_of_20_degrees_used_in_the_flight_literature() -> None:
    # 1.204 kg/m3, "20 degC dry": Penner 2001 (second-hand)
    assert float(moist_air_density_kgpm3(20.0, 101325.0, 0.0)) == pytest.approx(1.204, abs=6e-4)


def test_saturation_pressure_at_20_degrees() -> None:
    # 2339 Pa: steam tables (from memory)
    assert float(saturation_vapour_pressure_pa(20.0)) == pytest.approx(2339.0, abs=2.0)


@pytest.mark.parametrize(
    ("temperature", "humidity", "density"), [(0.0, 0.0, 1.293049), (20.0, 0.0, 1.204557), (20.0, 50.0, 1.199314)]
)
def test_regression_of_moist_air(temperature: float, humidity: float, density: float) -> None:
    # regression values of our own formula: no official worked example was found in a text
    assert float(moist_air_density_kgpm3(temperature, 101325.0, humidity)) == pytest.approx(density, abs=5e-7)


def test_missing_temperature_stays_missing() -> None:
    assert np.isnan(moist_air_density_kgpm3(np.nan, 101325.0, 50.0))


def test_the_air_of_a_session_is_what_was_measured_or_stands_in_for_it() -> None:
    # ISO 2533 at 1000 m (from memory): 898.746 hPa; a measured pressure goes before an altitude; no temperature, no air
    shots = pl.DataFrame(
        {
            "air_temp_c": [20.0, 20.0, 20.0, None],
            "air_pressure_hpa": [898.746, None, 1013.25, 1013.25],
            "humidity_pct": [0.0, 0.0, None, 0.0],
            "altitude_m": [None, 1000.0, 1000.0, 0.0],
        },
        schema=dict.fromkeys(("air_temp_c", "air_pressure_hpa", "humidity_pct", "altitude_m"), pl.Float64),
    )
    found = air_density_by_shot(shots, 0.0)
    assert found[0] == pytest.approx(found[1], rel=1e-5)
    assert found[0] == pytest.approx(1.204557 * 898.746 / 1013.25, rel=1e-3)
    assert found[2] == pytest.approx(1.199314, abs=5e-7)  # half humidity stands in
    assert np.isnan(found[3])


@pytest.mark.parametrize(("measured", "at_m", "printed", "tolerance"), [(3.2, 10.0, 2.4, 0.05), (5.0, 10.0, 3.74, 0.005)])
def test_wind_at_two_metres_from_a_higher_meter(measured: float, at_m: float, printed: float, tolerance: float) -> None:
    # FAO 56, example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m; 5 m/s at 10 m: 3.74, an R package's manual (both second-hand)
    assert float(wind_at_height(measured, at_m, 2.0)) == pytest.approx(printed, abs=tolerance)


def test_wind_between_two_heights_goes_there_and_back() -> None:
    assert float(wind_at_height(wind_at_height(4.0, 2.0, 30.0), 30.0, 2.0)) == pytest.approx(4.0)
    heights = np.linspace(0.0, 60.0, 200)
    rising = wind_at_height(4.0, 2.0, heights)
    assert (np.diff(rising) >= 0.0).all()
    assert rising[0] == 0.0
