from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.numbers import DASH, METRIC_QUANTITY, Numbers
from reports.words import MINUS, NARROW_SPACE, unbroken, words
from schemas.academy import Units

US = Numbers(words("en"), Units("mph", "yd"))
SI = Numbers(words("de"), Units("m/s", "m"))
KMH = Numbers(words("en"), Units("km/h", "m"))


@pytest.mark.parametrize(
    ("numbers", "quantity", "value", "shown"),
    [
        # exact definitions: 1 mph = 0.44704 m/s, 1 yd = 0.9144 m (international yard and mile)
        (US, "speed", 44.704, f"100.0{NARROW_SPACE}mph"),
        (SI, "speed", 44.704, f"44,7{NARROW_SPACE}m/s"),
        (KMH, "speed", 10.0, f"36.0{NARROW_SPACE}km/h"),
        (US, "carry", 228.6, f"250{NARROW_SPACE}yd"),
        (SI, "carry", 228.6, f"228,6{NARROW_SPACE}m"),
        (US, "spread", 9.144, f"10.0{NARROW_SPACE}yd"),
        (US, "angle", -3.25, f"{MINUS}3.2°"),
        (US, "spin", 2684.0, f"2680{NARROW_SPACE}rpm"),
        (US, "ratio", 1.4849, "1.48"),
        (US, "share", 0.081, f"8{NARROW_SPACE}%"),
        (US, "strokes", 0.3333, f"0.3{NARROW_SPACE}strokes"),
        (US, "stroke_loss", 0.3333, f"0.33{NARROW_SPACE}strokes"),
    ],
)
def test_values_in_the_academys_units(numbers: Numbers, quantity: str, value: float, shown: str) -> None:
    assert numbers.with_unit(quantity, value) == shown


@pytest.mark.parametrize(
    "held",
    ["{n}_% of 3_m, 90_% interval", "{low} to {high}_{unit}; 12 minutes, 4 more, 3 months", "8_m/s, 15_°C: 30_min (2_s)"],
)
def test_a_text_holds_numbers_and_units_together(held: str) -> None:
    assert unbroken(held.replace("_", " ")) == held.replace("_", NARROW_SPACE)
    assert unbroken("95-%-Intervall, 3-km-Lauf") == "95\N{NON-BREAKING HYPHEN}%-Intervall, 3-km-Lauf"


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_a_missing_value_is_a_dash_and_never_zero(value: float | None) -> None:
    assert US.with_unit("speed", value) == DASH
    assert US.bare("speed", value) == DASH
    assert US.shown("speed", value) is None


def test_an_estimate_says_interval_and_n_as_far_as_they_are_there() -> None:
    assert US.estimate("ratio", 1.48, 1.46, 1.5, 34) == f"1.48 (90{NARROW_SPACE}% interval 1.46 to 1.50, n = 34)"
    assert US.estimate("ratio", 1.48, None, None, 3) == "1.48 (n = 3)"
    assert US.estimate("ratio", 1.48, 1.46, 1.5) == f"1.48 (90{NARROW_SPACE}% interval 1.46 to 1.50)"
    assert US.estimate("ratio", None, None, None, 0) == DASH
    assert US.interval("ratio", None, 1.0) == DASH


@pytest.mark.parametrize(
    ("probability", "shown"),
    [
        (0.001, f"under 1{NARROW_SPACE}%"),
        (0.5, f"50{NARROW_SPACE}%"),
        (0.999, f"over 99{NARROW_SPACE}%"),
        (None, DASH),
        (math.nan, DASH),
    ],
)
def test_a_chance_is_never_certain(probability: float | None, shown: str) -> None:
    assert US.chance(probability) == shown


def test_a_p_value_is_never_zero() -> None:
    assert [US.p_value(value) for value in (0.0001, 0.00099, 0.001, 0.0324, None)] == [
        "under 0.001", "under 0.001", "0.001", "0.032", DASH
    ]  # fmt: skip
    assert SI.p_value(0.0) == "unter 0,001"


@pytest.mark.parametrize("metric", sorted(METRIC_QUANTITY))
def test_every_metric_has_a_quantity(metric: str) -> None:
    assert US.with_unit(metric, 1.0) != DASH


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (-0.84, f"{MINUS}0.8"),
        (0.04, "+0.04"),
        (-0.0004, "just below 0"),
        (1e-5, "just above 0"),
        (0.06, "+0.1"),
        (0.0, "0.0"),
        (1e-16, "0.0"),
    ],
)
def test_an_end_of_an_interval_is_printed_on_its_side_of_zero(value: float, shown: str) -> None:
    assert words("en").end(value, 1) == shown
    assert US.end("strokes", value) == shown


def test_an_interval_of_a_change_that_leaves_out_zero_does_so_in_print() -> None:
    assert US.interval("percent", -0.81, -0.03, signed=True) == f"{MINUS}0.8 to {MINUS}0.03"
    assert US.interval("percent", 0.03, 0.81) == "0.0 to 0.8", "the ends of a level have no side"
    assert SI.end_with_unit("speed", 0.01) == f"+0,01{NARROW_SPACE}m/s"
    assert US.end("speed", None) == US.end_with_unit("speed", float("nan")) == DASH


@given(st.floats(-1e9, 1e9) | st.integers(-100_000, 100_000), st.integers(0, 3))
def test_what_is_printed_is_the_nearest_number_with_so_many_decimals(value: float, digits: int) -> None:
    shown = words("en").number(value, digits, signed=True)
    read = Decimal(shown.replace(NARROW_SPACE, "").replace(MINUS, "-"))
    assert read == Decimal(value).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_EVEN)
    assert (shown[0] == "+", shown[0] == MINUS) == (read > 0, read < 0)
    assert (NARROW_SPACE in shown) == (abs(read) >= 10_000)
