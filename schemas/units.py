"""Units of length, speed, angle, temperature, pressure, mass and rate, each with its way to SI and back.

Inside speedworth everything is SI (degrees for angles, revolutions a minute for spin). Conversion happens at the
edge of a file and at the edge of a page, by these functions only.

Source: exact definitions of the international yard, foot, inch and mile (0.9144 m, 0.3048 m, 0.0254 m, 1609.344 m),
conventional inch of mercury 3386.389 Pa.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Unit:
    """One unit: ``si = value * factor + offset``.

    Attributes
    ----------
    symbol : str
        How it is written on pages and in mappings.
    quantity : str
        What it measures: length, speed, angle, rate, temperature, pressure, time, share, count.
    si : str
        Symbol of the unit kept inside.
    factor, offset : float
    """

    symbol: str
    quantity: str
    si: str
    factor: float = 1.0
    offset: float = 0.0

    def to_si(self, value: float) -> float:
        """The value in the unit kept inside."""
        return value * self.factor + self.offset

    def from_si(self, value: float) -> float:
        """The value in this unit."""
        return (value - self.offset) / self.factor


_ALL = (
    Unit("m", "length", "m"),
    Unit("cm", "length", "m", 0.01),
    Unit("mm", "length", "m", 0.001),
    Unit("yd", "length", "m", 0.9144),
    Unit("ft", "length", "m", 0.3048),
    Unit("in", "length", "m", 0.0254),
    Unit("m/s", "speed", "m/s"),
    Unit("mph", "speed", "m/s", 0.44704),
    Unit("km/h", "speed", "m/s", 1 / 3.6),
    Unit("ft/s", "speed", "m/s", 0.3048),
    Unit("kn", "speed", "m/s", 1852 / 3600),
    Unit("deg", "angle", "deg"),
    Unit("rad", "angle", "deg", 57.29577951308232),
    Unit("rpm", "rate", "rpm"),
    Unit("rps", "rate", "rpm", 60.0),
    Unit("degC", "temperature", "degC"),
    Unit("degF", "temperature", "degC", 5 / 9, -160 / 9),
    Unit("K", "temperature", "degC", 1.0, -273.15),
    Unit("hPa", "pressure", "hPa"),
    Unit("Pa", "pressure", "hPa", 0.01),
    Unit("kPa", "pressure", "hPa", 10.0),
    Unit("mbar", "pressure", "hPa"),
    Unit("inHg", "pressure", "hPa", 33.86389),
    Unit("mmHg", "pressure", "hPa", 1.333224),
    Unit("min", "time", "min"),
    Unit("s", "time", "min", 1 / 60),
    Unit("h", "time", "min", 60.0),
    Unit("%", "share", "%"),
    Unit("share", "share", "%", 100.0),
)

UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _ALL}


def conversion(symbol: str, si_symbol: str) -> Unit:
    """A unit whose ``to_si`` ends in exactly ``si_symbol``, e.g. ``in`` into ``mm``.

    Raises
    ------
    KeyError
        When a symbol is unknown.
    ValueError
        When the two measure different things.
    """
    source, target = UNITS[symbol], UNITS[si_symbol]
    if source.quantity != target.quantity:
        raise ValueError(f"{symbol} is a unit of {source.quantity}, {si_symbol} of {target.quantity}")
    return Unit(
        symbol,
        source.quantity,
        si_symbol,
        source.factor / target.factor,
        (source.offset - target.offset) / target.factor,
    )
