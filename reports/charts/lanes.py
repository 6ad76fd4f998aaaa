"""Lanes above a chart over time, which say in words what is known: flags and decisions, trials and devices, phases of the plan.

Data sets (days are ``pl.Date``), both of which must be there:

* ``spans``: ``day``, ``end``, ``lane`` (0, 1 or 2 from the top), ``kind`` (``flag``, ``trial``, ``phase``), ``words``
* ``moments``: ``day``, ``lane``, ``kind`` (``raised``, ``closed``, ``decided``, ``odd``, ``device``), ``words``
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme

if TYPE_CHECKING:
    from reports.charts import Style

LANE, LANES, FOOT = 16, 52, 6
"""Height of a lane, where the values begin below the lanes, and room below them, so that no point is cut [px]."""
MONTH_MS = 2.63e9
"""Milliseconds of a month, about."""


def month_axis(scale: str = "x", **more: Any) -> alt.Axis:
    """A mark for every month, names for as many as there is room for, January among them; the year below January and the first.

    Parameters
    ----------
    scale : str
        Name of the horizontal scale as it is compiled: ``x``, or ``<name of the view>_x`` where there are several views.
    more
        Further properties of the axis.

    Notes
    -----
    What the reader drags over changes the room, so that it is asked for while the chart is drawn.
    """
    first, last = f"domain('{scale}')[0]", f"domain('{scale}')[1]"
    room = f"abs(range('{scale}')[1] - range('{scale}')[0]) * {MONTH_MS:g} / ({last} - {first})"
    step = f"({room} >= 36 ? 1 : {room} >= 18 ? 2 : {room} >= 12 ? 3 : {room} >= 6 ? 6 : 12)"
    month, year = "timeFormat(datum.value, '%b')", "timeFormat(datum.value, '%Y')"
    is_first = f"timeOffset('month', datum.value, -{step}) < {first}"
    label = f"month(datum.value) % {step} != 0 ? '' : month(datum.value) == 0 || {is_first} ? [{month}, {year}] : {month}"
    ticks: dict[str, Any] = {"interval": "month", "step": 1}
    return alt.Axis(title=None, tickCount=ticks, labelExpr=label, labelOverlap=False, **more)


def _lane(below: int) -> Any:
    return alt.value({"expr": f"{LANE} * datum.lane + {below}"})


_COLOURS = {"flag": theme.VERMILLION, "trial": theme.BLUE, "phase": "#8c8c8c"}
_MOMENTS = ["raised", "closed", "decided", "odd"]


def spans(across: alt.X, style: Style) -> list[Any]:
    """Each span as a bar at the foot of its lane, its words above it."""
    words = style.words
    tips = [
        alt.Tooltip("words:N", title=words("marks.what")),
        alt.Tooltip("day:T", title=words("chart.low"), format="%-d %b %Y"),
        alt.Tooltip("end:T", title=words("chart.high"), format="%-d %b %Y"),
    ]
    base = alt.Chart(alt.NamedData("spans")).encode(x=across)
    bars = [
        base.transform_filter(f"datum.kind == '{kind}'")
        .mark_rule(strokeWidth=3, color=colour, clip=True)
        .encode(x2=alt.X2("end:T"), y=_lane(14), tooltip=tips)
        for kind, colour in _COLOURS.items()
    ]
    label = base.mark_text(align="left", baseline="alphabetic", dx=7, color=theme.GREY, fontSize=10.5, clip=True)
    return [*bars, label.encode(y=_lane(10), text=alt.Text("words:N"))]


def moments(across: alt.X, style: Style, height: float) -> list[Any]:
    """Raised a full triangle down, closed an open one up, a decision a diamond, an odd session a ring; a new device by name.

    A dashed line marks the day of a flag or a device among the values, below the lanes, so that it crosses no words.
    """
    words = style.words
    tips = [alt.Tooltip("day:T", title=words("chart.day"), format="%-d %b %Y"), alt.Tooltip("words:N", title=words("marks.what"))]
    base = alt.Chart(alt.NamedData("moments")).encode(x=across)
    told = base.transform_filter("datum.kind != 'device'")
    rule = base.transform_filter("datum.kind == 'raised'").mark_rule(
        color=theme.VERMILLION, strokeDash=[2, 2], opacity=0.7, clip=True
    )
    shape = alt.Shape(
        "kind:N", scale=alt.Scale(domain=_MOMENTS, range=["triangle-down", "triangle-up", "diamond", "circle"]), legend=None
    )
    fill = alt.condition("datum.kind == 'closed' || datum.kind == 'odd'", alt.value(theme.PAPER), alt.value(theme.VERMILLION))
    edge = alt.condition("datum.kind == 'decided' || datum.kind == 'odd'", alt.value(theme.BLACK), alt.value(theme.VERMILLION))
    mark = told.mark_point(size=70, opacity=1, strokeWidth=1.4, clip=True)
    new = base.transform_filter("datum.kind == 'device'")
    return [
        rule.encode(y=alt.value(LANES), y2=alt.value(height)),
        new.mark_rule(color=theme.BLUE, strokeDash=[6, 3], strokeWidth=0.9, clip=True).encode(
            y=alt.value(LANES), y2=alt.value(height), tooltip=tips
        ),
        new.mark_text(align="left", baseline="alphabetic", dx=3, color=theme.GREY, fontSize=10.5, clip=True).encode(
            y=_lane(10), text=alt.Text("words:N")
        ),
        mark.encode(y=_lane(12), shape=shape, fill=fill, stroke=edge, tooltip=tips),
    ]
