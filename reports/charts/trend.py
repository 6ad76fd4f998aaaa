"""A value over months: own normal as a quiet band, the level with its uncertainty, sessions as points, and lanes above them.

The lanes say in words what is known: flags from raised to closed with decisions; trials and new devices; phases of the plan.

Data sets (days are ``pl.Date``; values in the unit shown):

* ``rows``: ``day``, ``value``, ``odd`` (true: drawn hollow), ``n`` (shots), ``note`` (text for the tooltip)
* ``level``: ``day``, ``level``, ``low``, ``high``
* ``normal``: ``day``, ``low``, ``high``: the player's own normal
* ``spans`` and ``moments``: see :mod:`reports.charts.lanes`

Any of them may be empty, but all must be there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme
from reports.charts.lanes import FOOT, LANES, moments, month_axis, spans

if TYPE_CHECKING:
    from reports.charts import Style, Template


HEIGHT = theme.CHART_HEIGHT + LANES


def _named(name: str) -> Any:
    return alt.NamedData(name)


def _across(scale: Any = alt.Undefined, *, labels: bool = True) -> alt.X:
    return alt.X("day:T", scale=scale, axis=month_axis("detail_x") if labels else None)


def _up() -> alt.Y:
    return alt.Y(
        "value:Q", scale=alt.Scale(zero=False, nice=True, range=[HEIGHT - FOOT, LANES]), axis=alt.Axis(title=None, tickCount=5)
    )


def _normal(across: alt.X) -> Any:
    return (
        alt.Chart(_named("normal"))
        .mark_area(color=theme.BAND, clip=True, interpolate="step-after")
        .encode(x=across, y=alt.Y("low:Q", scale=alt.Scale(zero=False)), y2=alt.Y2("high:Q"))
    )


def _level(across: alt.X, style: Style) -> list[Any]:
    base = alt.Chart(_named("level")).encode(x=across)
    words = style.words
    tips = [
        alt.Tooltip("day:T", title=words("chart.day"), format="%-d %b %Y"),
        alt.Tooltip("level:Q", title=words("chart.level"), format=".1f"),
        alt.Tooltip("low:Q", title=words("chart.low"), format=".1f"),
        alt.Tooltip("high:Q", title=words("chart.high"), format=".1f"),
    ]
    return [
        base.mark_area(color=theme.BLACK, opacity=0.14, clip=True).encode(y=alt.Y("low:Q"), y2=alt.Y2("high:Q")),
        base.mark_line(color=theme.BLACK, clip=True).encode(y=alt.Y("level:Q"), tooltip=tips),
    ]


def _sessions(across: alt.X, style: Style) -> Any:
    words = style.words
    return (
        alt.Chart(_named("rows"))
        .mark_point(color=theme.GREY, clip=True)
        .encode(
            x=across,
            y=_up(),
            fill=alt.condition("datum.odd", alt.value(theme.PAPER), alt.value(theme.GREY)),
            tooltip=[
                alt.Tooltip("day:T", title=words("chart.day"), format="%-d %b %Y"),
                alt.Tooltip("value:Q", title=words("chart.value"), format=".1f"),
                alt.Tooltip("n:Q", title=words("chart.n")),
                alt.Tooltip("note:N", title=words("chart.note")),
            ],
        )
    )


def trend(style: Style) -> alt.VConcatChart:
    """Detail above, the whole time below: drag in the lower strip to look closer."""
    brush = alt.selection_interval(
        name="brush", encodings=["x"], mark=alt.BrushConfig(fill=theme.GREY, fillOpacity=0.12, stroke=theme.GREY)
    )
    near = _across(alt.Scale(domain={"param": "brush"}, padding=6))
    layers = [_normal(near), *_level(near, style), _sessions(near, style), *spans(near, style), *moments(near, style, HEIGHT)]
    detail = alt.layer(*layers).properties(width=theme.CHART_WIDTH, height=HEIGHT, name="detail")
    whole = _across(labels=False)
    strip = (
        alt.Chart(_named("level"), name="overview")
        .mark_line(color=theme.GREY, strokeWidth=1.2)
        .encode(x=whole, y=alt.Y("level:Q", scale=alt.Scale(zero=False), axis=None))
        .properties(width=theme.CHART_WIDTH, height=theme.OVERVIEW_HEIGHT)
        .add_params(brush)
    )
    return alt.vconcat(detail, strip, spacing=6)


CHARTS: dict[str, Template] = {"trend": trend}

BEHIND = {"trend": (("day", "chart.day"), ("value", "chart.value"), ("n", "chart.n"), ("note", "chart.device"))}
"""Columns of ``rows`` that the page lists when the numbers behind the chart are opened, with the word key of each."""
