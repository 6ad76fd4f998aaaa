"""Units against exact definitions and against scipy.constants.

Sources: international yard and pound agreement of 1959 (1 yd = 0.9144 m exactly; from memory, and in scipy.constants); knot =
1852 m/h (from memory); zero of the Celsius scale 273.15 K (from memory); scipy.constants as the reference library.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from schemas.units import UNITS, conversion


@pytest.mark.parametrize(
    ("symbol", "si"),
    [
        ("yd", constants.yard),
        ("ft", constants.foot),
        ("in", constants.inch),
        ("mph", constants.mph),
        ("km/h", constants.kmh),
        ("kn", constants.knot),
        ("ft/s", constants.foot),
        ("rad", 180 / math.pi),
        ("h", 60.0),
        ("s", 1 / 60),
    ],
)
def test_one_of_a_unit_is_what_the_reference_library_says(symbol: str, si: float) -> None:
    assert UNITS[symbol].to_si(1.0) == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize(
    ("symbol", "value", "si"), [("mph", 1.0, 0.44704), ("yd", 300.0, 274.32), ("in", 1.0, 0.0254), ("kn", 1.0, 1852 / 3600)]
)
def test_exact_definitions(symbol: str, value: float, si: float) -> None:
    assert UNITS[symbol].to_si(value) == pytest.approx(si, rel=1e-14)


@pytest.mark.parametrize(("degf", "degc"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (59.0, 15.0)])
def test_fahrenheit_at_its_fixed_points(degf: float, degc: float) -> None:
    assert UNITS["degF"].to_si(degf) == pytest.approx(degc, abs=1e-9)
    assert UNITS["degF"].to_si(degf) == pytest.approx(constants.convert_temperature(degf, "Fahrenheit", "Celsius"), abs=1e-9)


def test_kelvin() -> None:
    assert UNITS["K"].to_si(constants.zero_Celsius) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("symbol", "value"), [("inHg", 29.92126), ("mmHg", 760.0), ("kPa", 101.325), ("Pa", 101325.0), ("mbar", 1013.25)]
)
def test_one_standard_atmosphere_in_every_unit_of_pressure(symbol: str, value: float) -> None:
    # 1 atm = 101325 Pa exactly (scipy.constants.atm). Half of the last digit of 29.92126 inHg (1.7e-7), of 3386.389 Pa (1.5e-7)
    # and 133.3224 Pa (3.8e-7), and 760 mmHg being 1 atm to 1.4e-7 only (all from memory) add up to less than 6e-7.
    assert UNITS[symbol].to_si(value) == pytest.approx(constants.atm / 100, rel=6e-7)


@pytest.mark.parametrize("symbol", sorted(UNITS))
@given(value=st.floats(-1e6, 1e6))
def test_there_and_back(symbol: str, value: float) -> None:
    unit = UNITS[symbol]
    assert unit.from_si(unit.to_si(value)) == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("source", "target", "value", "expected"),
    [("in", "mm", 1.0, 25.4), ("ft", "cm", 6.0, 182.88), ("degF", "degC", 77.0, 25.0), ("h", "min", 1.5, 90.0)],
)
def test_conversion_ends_in_the_unit_of_the_column(source: str, target: str, value: float, expected: float) -> None:
    assert conversion(source, target).to_si(value) == pytest.approx(expected, rel=1e-12)


def test_no_conversion_between_quantities() -> None:
    with pytest.raises(ValueError, match="length"):
        conversion("yd", "deg")


@pytest.mark.parametrize("symbol", sorted(UNITS))
def test_a_unit_names_the_unit_kept_inside(symbol: str) -> None:
    inside = UNITS[UNITS[symbol].si]
    assert (inside.factor, inside.offset) == (1.0, 0.0)
    assert inside.quantity == UNITS[symbol].quantity
