"""Weather of an invented place near a cold sea, day by day, and when a session moves indoors."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from pipelines.demo.cast import START_ON
from pipelines.demo.effects import N_DAYS, day_number

Floats = NDArray[np.float64]

ALTITUDE_M = 180.0
WIND_HEIGHT_M = 10.0
"""Where the invented weather service measures; academy.toml of the demo says the same."""
COLD_SPRING = (date(2025, 3, 10), date(2025, 5, 5), -6.0)
COLD_WEEK = (date(2026, 4, 13), date(2026, 4, 20), -12.0)


@dataclass(frozen=True)
class Weather:
    """One value a day, shape (days,): air temperature, pressure at the place, humidity, wind and where it comes from, rain."""

    temp_c: Floats
    pressure_hpa: Floats
    humidity_pct: Floats
    wind_mps: Floats
    wind_from_deg: Floats
    is_wet: NDArray[np.bool_]


def _carried_on(steps: Floats, memory: float) -> Floats:
    line = np.empty_like(steps)
    line[0] = steps[0]
    for day in range(1, line.size):
        line[day] = memory * line[day - 1] + np.sqrt(1.0 - memory**2) * steps[day]
    return line


def day_of_year() -> Floats:
    """Day of the year by day, 1 to 366."""
    return np.array([(START_ON + timedelta(days=day)).timetuple().tm_yday for day in range(N_DAYS)], dtype=np.float64)


def weather(rng: np.random.Generator) -> Weather:
    """Two and a half years of weather."""
    season = -np.cos(2.0 * np.pi * (day_of_year() - 20.0) / 365.25)
    form = _carried_on(rng.standard_normal(N_DAYS), 0.7)
    storms = _carried_on(rng.standard_normal(N_DAYS), 0.5)
    temp = 9.5 + 8.5 * season + 3.0 * form
    wind = 3.2 * np.exp(0.45 * storms)
    for first, last, colder in (COLD_SPRING, COLD_WEEK):
        temp[day_number(first) : day_number(last)] += colder
    week = slice(day_number(COLD_WEEK[0]), day_number(COLD_WEEK[1]))
    wind[week] = np.maximum(wind[week] * 2.0, 7.5)
    wind_from = np.mod(40.0 + 70.0 * _carried_on(rng.standard_normal(N_DAYS), 0.6), 360.0)
    wind_from[week] = np.mod(15.0 + 0.1 * wind_from[week], 360.0)
    return Weather(
        temp_c=temp,
        pressure_hpa=991.8 + 8.0 * _carried_on(rng.standard_normal(N_DAYS), 0.8),
        humidity_pct=np.clip(72.0 - 8.0 * season + 10.0 * rng.standard_normal(N_DAYS), 25.0, 99.0),
        wind_mps=np.clip(wind, 0.3, 12.0),
        wind_from_deg=wind_from,
        is_wet=rng.random(N_DAYS) < 0.13,
    )
