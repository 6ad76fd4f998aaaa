"""One look for pages and charts: palette, type, and the language of the charts.

Black is what was measured, blue what it is compared with, vermillion what asks for a look, grey what is normal or only
context. Colour never speaks alone: a dash, a shape or a word says the same.
"""

from __future__ import annotations

from typing import Any

BLACK = "#000000"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
GREY = "#595959"
PAPER = "#ffffff"
BAND = "#ececec"
"""Own normal, drawn quietly behind everything else."""

SERIES: tuple[tuple[str, str, list[int]], ...] = (
    (BLACK, "circle", [1, 0]),
    (BLUE, "square", [6, 3]),
    (VERMILLION, "triangle-up", [2, 2]),
    (GREY, "diamond", [8, 3, 2, 3]),
)
"""At most four series: colour, shape and dash together. More than four become small multiples."""

SANS = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', Arial, sans-serif"
AXIS_WIDTH = 46
"""Width in px kept for the vertical axis, the same in every chart, so that charts below each other line up."""

CHART_HEIGHT = 230
OVERVIEW_HEIGHT = 44
CHART_WIDTH = 660
"""Width of the plot where no page says otherwise (print, pictures)."""
SPAN_MARKS = (7_000_000_000_001, 7_000_000_000_002)
"""Stand in a chart's plan for the ends of the span that is chosen [ms since 1970]: days two centuries from now."""


def chart_config() -> dict[str, Any]:
    """Settings shared by every chart: few lines, small type, nothing that is not read."""
    return {
        "font": SANS,
        "background": PAPER,
        "padding": {"left": 2, "right": 12, "top": 8, "bottom": 2},
        "view": {"stroke": None},
        "axis": {
            "labelFontSize": 12,
            "titleFontSize": 12,
            "titleFontWeight": "normal",
            "labelColor": GREY,
            "titleColor": GREY,
            "domainColor": GREY,
            "tickColor": GREY,
            "gridColor": "#e4e4e4",
            "gridWidth": 0.7,
            "labelFlush": False,
            "labelOverlap": "greedy",
        },
        "axisX": {"grid": False, "tickSize": 4},
        "axisY": {"domain": False, "ticks": False, "labelPadding": 6, "minExtent": AXIS_WIDTH, "maxExtent": AXIS_WIDTH},
        "legend": {
            "labelFontSize": 12,
            "titleFontSize": 12,
            "titleFontWeight": "normal",
            "orient": "top",
            "symbolType": "stroke",
        },
        "header": {"labelFontSize": 13, "labelFontWeight": "normal", "labelAnchor": "start", "titleFontSize": 12},
        "text": {"fontSize": 12},
        "line": {"strokeWidth": 1.8},
        "point": {"size": 34, "strokeWidth": 1.4},
        "range": {"category": [colour for colour, _, _ in SERIES]},
    }
