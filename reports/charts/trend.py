"""A value over months: own normal as a quiet band, the level with its uncertainty, sessions as points, and lanes above them.

The lanes say in words what is known: flags from raised to closed with decisions; trials and new devices; phases of the plan.

Data sets (days are ``pl.Date``; values in the unit shown):

* ``rows``: ``day``, ``value``, ``odd`` (true: drawn hollow), ``n`` (shots), ``note`` (text for the tooltip)
* ``level``: ``day``, ``level``, ``low``, ``high``
* ``normal``: ``day``, ``low``, ``high``: the player's own normal
* ``spans``: ``day``, ``end``, ``lane`` (0, 1 or 2 from the top), ``kind`` (``flag``, ``trial``, ``phase``), ``words``
* ``moments``: ``day``, ``lane``, ``kind`` (``raised``, ``closed``, ``decided``, ``device``), ``words``

Any of them may be empty, but all must be there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme

if TYPE_CHECKING:
    from reports.charts import Style, Template


LANE, LANES = 16, 52
"""Height of a lane, and where the values begin below the lanes [px]."""
HEIGHT = theme.CHART_HEIGHT + LANES


def _named(name: str) -> Any:
    return alt.NamedData(name)


def _across(scale: Any = alt.Undefined, *, labels: bool = True) -> alt.X:
    axis = alt.Axis(title=None, labels=labels, ticks=labels, tickCount={"interval": "month", "step": 1}, labelExpr=MONTH_LABEL)
    return alt.X("day:T", scale=scale, axis=axis if labels else None)


MONTH_LABEL = "month(datum.value) == 0 || datum.index == 0 ? timeFormat(datum.value, '%b %Y') : timeFormat(datum.value, '%b')"
"""Months by name; the year stands with January and with the first label."""


def _up() -> alt.Y:
    return alt.Y("value:Q", scale=alt.Scale(zero=False, nice=True, range=[HEIGHT, LANES]), axis=alt.Axis(title=None, tickCount=5))


def _normal(across: alt.X) -> Any:
    return (
        alt.Chart(_named("normal"))
        .mark_area(color=theme.BAND, clip=True, interpolate="step-after")
        .encode(x=across, y=alt.Y("low:Q", scale=alt.Scale(zero=False)), y2="high:Q")
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
        base.mark_area(color=theme.BLACK, opacity=0.14, clip=True).encode(y="low:Q", y2="high:Q"),
        base.mark_line(color=theme.BLACK, clip=True).encode(y="level:Q", tooltip=tips),
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


def _lane(below: int) -> Any:
    return alt.value({"expr": f"{LANE} * datum.lane + {below}"})


_KINDS = ["flag", "trial", "phase"]
_MOMENTS = ["raised", "closed", "decided"]


def _spans(across: alt.X, style: Style) -> list[Any]:
    """Each span as a bar at the foot of its lane, its words above it."""
    words = style.words
    tips = [
        alt.Tooltip("words:N", title=words("marks.what")),
        alt.Tooltip("day:T", title=words("chart.low"), format="%-d %b %Y"),
        alt.Tooltip("end:T", title=words("chart.high"), format="%-d %b %Y"),
    ]
    base = alt.Chart(_named("spans")).encode(x=across)
    colour = alt.Color("kind:N", scale=alt.Scale(domain=_KINDS, range=[theme.VERMILLION, theme.BLUE, "#8c8c8c"]), legend=None)
    bar = base.mark_rule(strokeWidth=3, clip=True).encode(x2="end:T", y=_lane(14), color=colour, tooltip=tips)
    label = base.mark_text(align="left", baseline="alphabetic", dx=7, color=theme.GREY, fontSize=10.5, clip=True)
    return [bar, label.encode(y=_lane(10), text="words:N")]


def _moments(across: alt.X, style: Style) -> list[Any]:
    """Raised as a full triangle down, closed as an open one up, a decision as a diamond; a new device as a line with its name."""
    words = style.words
    tips = [alt.Tooltip("day:T", title=words("chart.day"), format="%-d %b %Y"), alt.Tooltip("words:N", title=words("marks.what"))]
    base = alt.Chart(_named("moments")).encode(x=across)
    told = base.transform_filter("datum.kind != 'device'")
    rule = base.transform_filter("datum.kind == 'raised'").mark_rule(
        color=theme.VERMILLION, strokeDash=[2, 2], opacity=0.7, clip=True
    )
    shape = alt.Shape("kind:N", scale=alt.Scale(domain=_MOMENTS, range=["triangle-down", "triangle-up", "diamond"]), legend=None)
    fill = alt.condition("datum.kind == 'closed'", alt.value(theme.PAPER), alt.value(theme.VERMILLION))
    edge = alt.condition("datum.kind == 'decided'", alt.value(theme.BLACK), alt.value(theme.VERMILLION))
    mark = told.mark_point(size=70, opacity=1, strokeWidth=1.4, clip=True)
    new = base.transform_filter("datum.kind == 'device'")
    return [
        rule.encode(y=alt.value(14), y2=alt.value(HEIGHT)),
        new.mark_rule(color=theme.BLUE, strokeDash=[6, 3], strokeWidth=0.9, clip=True).encode(
            y=alt.value(LANE + 2), y2=alt.value(HEIGHT), tooltip=tips
        ),
        new.mark_text(align="left", baseline="alphabetic", dx=3, color=theme.GREY, fontSize=10.5, clip=True).encode(
            y=_lane(10), text="words:N"
        ),
        mark.encode(y=_lane(12), shape=shape, fill=fill, stroke=edge, tooltip=tips),
    ]


def trend(style: Style) -> alt.VConcatChart:
    """Detail above, the whole time below: drag in the lower strip to look closer."""
    brush = alt.selection_interval(
        name="brush", encodings=["x"], mark=alt.BrushConfig(fill=theme.GREY, fillOpacity=0.12, stroke=theme.GREY)
    )
    near = _across(alt.Scale(domain={"param": "brush"}, padding=6))
    layers = [_normal(near), *_level(near, style), _sessions(near, style), *_spans(near, style), *_moments(near, style)]
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
