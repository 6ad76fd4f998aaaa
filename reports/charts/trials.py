"""Shots of one arm of a trial, drawn to scale from above on a fairway of the course.

Data sets, in the unit shown: ``rows``: ``offline``, ``carry``, ``day``, ``missed`` (true: hollow); ``frame``: two corners
(see :func:`reports.chart_shapes.corners_of`); ``fairway``: ``left``, ``right``, ``low``, ``high``; ``edges``: ``offline``
(where trees begin; may be empty); ``rings``: ``offline``, ``carry``, ``order``, ``ring`` (``own`` or ``normal``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme

if TYPE_CHECKING:
    from reports.charts import Style, Template

SIDE = 262


def _ground() -> list[Any]:
    fairway, edges = alt.Chart(alt.NamedData("fairway")), alt.Chart(alt.NamedData("edges"))
    return [
        fairway.mark_rect(color=theme.BAND, clip=True).encode(
            x=alt.X("left:Q"), x2=alt.X2("right:Q"), y=alt.Y("low:Q"), y2=alt.Y2("high:Q")
        ),
        edges.mark_rule(color=theme.GREY, strokeWidth=1.4, strokeDash=[1, 4], clip=True).encode(x=alt.X("offline:Q")),
        fairway.mark_rule(color=theme.GREY, strokeWidth=0.8, strokeDash=[4, 3], clip=True).encode(
            x=alt.datum(0), y=alt.Y("low:Q"), y2=alt.Y2("high:Q")
        ),
    ]


def trial_plan(style: Style) -> alt.TopLevelMixin:
    """The plan view of one arm."""
    words, unit = style.words, style.numbers.unit("spread")
    exact = alt.Scale(zero=False, nice=False, padding=0)
    across = alt.X("offline:Q", scale=exact, axis=alt.Axis(title=f"{words('chart.offline')}, {unit}", tickCount=5, domain=False))
    up = alt.Y("carry:Q", scale=exact, axis=alt.Axis(title=None, tickCount=6, minExtent=30, maxExtent=30))
    tips = [
        alt.Tooltip("day:T", title=words("chart.day"), format="%-d %b %Y"),
        alt.Tooltip("carry:Q", title=words("chart.carry"), format=".0f"),
        alt.Tooltip("offline:Q", title=words("chart.offline"), format="+.0f"),
    ]
    shots = alt.Chart(alt.NamedData("rows")).mark_point(size=34, strokeWidth=1.2, stroke=theme.BLACK, opacity=0.75)
    fill = alt.condition("datum.missed", alt.value("transparent"), alt.value(theme.BLACK))
    rings = alt.Chart(alt.NamedData("rings")).mark_line(strokeWidth=1.6)
    own = alt.condition("datum.ring === 'own'", alt.value(theme.BLACK), alt.value(theme.BLUE))
    dash = alt.condition("datum.ring === 'own'", alt.value([1, 0]), alt.value([6, 3]))
    return alt.layer(
        *_ground(),
        alt.Chart(alt.NamedData("frame")).mark_point(opacity=0).encode(x=across, y=up),
        rings.encode(
            x=alt.X("offline:Q"),
            y=alt.Y("carry:Q"),
            order=alt.Order("order:Q"),
            detail=alt.Detail("ring:N"),
            stroke=own,
            strokeDash=dash,
        ),
        shots.encode(x=across, y=up, fill=fill, tooltip=tips),
    ).properties(width=SIDE, height=SIDE)


CHARTS: dict[str, Template] = {"trial_plan": trial_plan}
