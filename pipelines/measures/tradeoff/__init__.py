"""Trade-off between club speed and scatter: surface, lines of equal strokes, break-even."""

from pipelines.measures.tradeoff.break_even import scatter_price_deg, speed_price_mps
from pipelines.measures.tradeoff.printed import PrintedSaving, printed_savings
from pipelines.measures.tradeoff.surface import SpeedScale, StrokeLine, Surface, at_speed, stroke_lines, surface

__all__ = [
    "PrintedSaving",
    "SpeedScale",
    "StrokeLine",
    "Surface",
    "at_speed",
    "printed_savings",
    "scatter_price_deg",
    "speed_price_mps",
    "stroke_lines",
    "surface",
]
