"""Numbers as they are printed: in the academy's units, rounded to what can be known, with interval and n.

Rounding: speeds, carry and scatter to one decimal in mph, m/s and m, carry to whole yards where it is a level and one
decimal where it is a spread; ratios to two decimals; spin to 10 rpm; ratings to one decimal; strokes to two.
A value that is missing is a dash with the reason spoken beside it, never 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from reports.words import NARROW_SPACE
from schemas.units import UNITS

if TYPE_CHECKING:
    from reports.words import Words
    from schemas.academy import Units

DASH = "\N{EN DASH}"


@dataclass(frozen=True)
class Quantity:
    """How one quantity is shown.

    Attributes
    ----------
    symbol : str
        Unit shown, of :mod:`schemas.units`, or a word key such as ``strokes``; empty: none.
    factor : float
        Shown value = SI value times this.
    digits : int
        Decimals.
    step : float
        Rounded to multiples of this; 0: by decimals only.
    """

    symbol: str
    factor: float = 1.0
    digits: int = 1
    step: float = 0.0


_PLAIN = {
    "angle": Quantity("deg", digits=1),
    "spin": Quantity("rpm", digits=0, step=10.0),
    "ratio": Quantity("", digits=2),
    "strike": Quantity("mm", digits=0),
    "rating": Quantity("", digits=1),
    "strokes": Quantity("strokes", digits=1),
    "stroke_loss": Quantity("strokes", digits=2),
    "share": Quantity("%", factor=100.0, digits=0),
    "percent": Quantity("%", digits=1),
    "points": Quantity("points", digits=1),
    "count": Quantity("", digits=0),
    "minutes": Quantity("min", digits=0),
    "hours": Quantity("h", digits=1),
    "effort_minutes": Quantity("", digits=0),
    "height": Quantity("cm", digits=0),
}

METRIC_QUANTITY: dict[str, str] = {
    "club_speed_mps": "speed",
    "ball_speed_mps": "speed",
    "speed_ratio": "ratio",
    "carry_m": "carry",
    "comparable_carry_m": "carry",
    "offline_m": "spread",
    "scatter_side_m": "spread",
    "scatter_long_m": "spread",
    "wild_pct": "percent",
    "strike_spread_mm": "strike",
    "strike_side_mm": "strike",
    "strike_height_mm": "strike",
    "aim_deg": "angle",
    "attack_deg": "angle",
    "path_deg": "angle",
    "face_deg": "angle",
    "launch_deg": "angle",
    "direction_deg": "angle",
    "loft_deg": "angle",
    "spin_axis_deg": "angle",
    "spin_rpm": "spin",
    "mishit_rate": "share",
    "day_swings": "count",
    "day_full_effort": "count",
    "week_swings": "count",
    "week_full_effort": "count",
    "days_without_easy": "count",
    "swings_full": "count",
    "swings_speed": "count",
    "minutes": "minutes",
    "strokes": "strokes",
    "fatigue": "rating",
    "soreness": "rating",
    "stress": "rating",
    "sleep_trouble": "rating",
    "sleep_h": "hours",
    "stiffness": "rating",
}
"""Metric of a flag or trend to the quantity by which it is shown."""


def _of_units(units: Units) -> dict[str, Quantity]:
    speed, length = UNITS[units.speed], UNITS[units.length]
    return {
        "speed": Quantity(units.speed, 1 / speed.factor, 1),
        "carry": Quantity(units.length, 1 / length.factor, 0 if units.length == "yd" else 1),
        "spread": Quantity(units.length, 1 / length.factor, 1),
    }


def beside_unit(text: str, unit: str) -> str:
    """A number or an interval with its unit, if it has one: no line ends between them."""
    return f"{text}{unit}" if unit in {"", "°"} else f"{text}{NARROW_SPACE}{unit}"


@dataclass(frozen=True)
class Numbers:
    """Writes numbers in one language and one set of units.

    Attributes
    ----------
    words : Words
    units : Units
    """

    words: Words
    units: Units

    def quantity(self, name: str) -> Quantity:
        """How a quantity is shown: ``speed``, ``carry``, ``spread``, ``angle``, ... or a metric such as ``club_speed``."""
        return self._quantities[name]

    @cached_property
    def _quantities(self) -> dict[str, Quantity]:
        own = _PLAIN | _of_units(self.units)
        return own | {metric: own[name] for metric, name in METRIC_QUANTITY.items()}

    def unit(self, name: str) -> str:
        """Symbol of the unit shown; empty where there is none."""
        return self._symbols[name]

    @cached_property
    def _symbols(self) -> dict[str, str]:
        return {name: self._symbol(how.symbol) for name, how in self._quantities.items()}

    def _symbol(self, symbol: str) -> str:
        return self.words.either(f"units.{symbol.replace('/', '_').replace('%', 'percent')}", symbol) if symbol else ""

    def shown(self, name: str, value: float | None) -> float | None:
        """The value in the unit shown, rounded for charts; None stays None, and so does what is not finite."""
        if value is None or not math.isfinite(value):
            return None
        how = self.quantity(name)
        return round(value * how.factor, how.digits + 1) + 0.0

    def apart(self, name: str, one: float, other: float) -> float:
        """How far two values are apart as they are printed: no part of it may be printed as more."""
        how = self.quantity(name)
        first, second = (round(value * how.factor, how.digits) for value in (one, other))
        return abs(first - second) / how.factor

    def step(self, name: str) -> float:
        """The smallest difference that is printed, with room for rounding [SI]."""
        how = self.quantity(name)
        return 1.01 * 10.0**-how.digits / how.factor

    def bare(self, name: str, value: float | None, *, signed: bool = False) -> str:
        """The number without its unit: for cells whose header names the unit. A dash when it is missing."""
        if value is None or not math.isfinite(value):
            return DASH
        how = self.quantity(name)
        scaled = value * how.factor
        if how.step:
            scaled = round(scaled / how.step) * how.step
        return self.words.number(scaled, how.digits, signed=signed)

    def with_unit(self, name: str, value: float | None, *, signed: bool = False) -> str:
        """The number with its unit: ``112.4 mph``."""
        return self._beside_unit(name, self.bare(name, value, signed=signed))

    def _beside_unit(self, name: str, text: str) -> str:
        return text if text == DASH else beside_unit(text, self.unit(name))

    def end(self, name: str, value: float | None) -> str:
        """An end of an interval of a change, without its unit: never printed as zero unless it is."""
        if value is None or not math.isfinite(value):
            return DASH
        how = self.quantity(name)
        return self.words.end(value * how.factor, how.digits)

    def end_with_unit(self, name: str, value: float | None) -> str:
        """An end of an interval of a change with its unit: ``−0.04 mph``."""
        return self._beside_unit(name, self.end(name, value))

    def interval(self, name: str, low: float | None, high: float | None, *, signed: bool = False) -> str:
        """``110.9 to 113.8``, of a change (signed) ``−0.8 to −0.04``; a dash when either end is missing."""
        if low is None or high is None:
            return DASH
        text = self.end if signed else self.bare
        return self.words("numbers.interval", low=text(name, low), high=text(name, high))

    def estimate(
        self, name: str, value: float | None, low: float | None, high: float | None, n: int | None = None, *, signed: bool = False
    ) -> str:
        """Number, unit, 90 % interval and how many stand behind it, as far as they are there."""
        head = self.with_unit(name, value, signed=signed)
        extra = []
        if value is not None and low is not None and high is not None:
            extra.append(self.words("numbers.interval_90", interval=self.interval(name, low, high, signed=signed)))
        if value is not None and n is not None:
            extra.append(self.words("numbers.n", n=self.words.number(n, 0)))
        return f"{head} ({', '.join(extra)})" if extra else head

    def p_value(self, probability: float | None) -> str:
        """``0.032``; never 0: ``under 0.001``."""
        if probability is None or not math.isfinite(probability):
            return DASH
        least = self.words.number(0.001, 3)
        return self.words("numbers.under", least=least) if probability < 0.001 else self.words.number(probability, 3)

    def chance(self, probability: float | None) -> str:
        """``93 %``; never 0 % or 100 %: ``under 1 %``, ``over 99 %``."""
        if probability is None or not math.isfinite(probability):
            return DASH
        if probability < 0.01:
            return self.words("numbers.under_1")
        if probability > 0.99:
            return self.words("numbers.over_99")
        return f"{self.words.number(probability * 100, 0)}{NARROW_SPACE}%"
