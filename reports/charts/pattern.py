"""Shots drawn to scale from above: the target line runs up the page, one yard (metre) across is as long as one up.

Data sets, in the unit shown: ``rows``: ``offline``, ``carry``, ``day``; ``frame``: two corners ``offline``, ``carry``, whose
spans are as ``PLAN_WIDTH`` to ``PLAN_HEIGHT`` (see :func:`reports.chart_shapes.plan_frame`); ``fairway``: ``left``, ``right``,
``low``, ``high``; ``rings``: ``offline``, ``carry``, ``order``, ``ring`` (closed curves; may be empty).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme
from reports.chart_shapes import PLAN_HEIGHT, PLAN_WIDTH

if TYPE_CHECKING:
    from reports.charts import Style, Template


def _scales(style: Style) -> tuple[alt.X, alt.Y]:
    words, unit = style.words, style.numbers.unit("spread")
    exact = alt.Scale(zero=False, nice=False, padding=0)
    across = alt.Axis(title=f"{words('chart.offline')}, {unit}", tickCount=5, domain=False)
    up = alt.Axis(title=None, tickCount=6, minExtent=30, maxExtent=30)
    return alt.X("offline:Q", scale=exact, axis=across), alt.Y("carry:Q", scale=exact, axis=up)


def _ground() -> list[Any]:
    fairway = alt.Chart(alt.NamedData("fairway"))
    return [
        fairway.mark_rect(color=theme.BAND, clip=True).encode(
            x=alt.X("left:Q"), x2=alt.X2("right:Q"), y=alt.Y("low:Q"), y2=alt.Y2("high:Q")
        ),
        fairway.mark_rule(color=theme.GREY, strokeWidth=0.8, strokeDash=[4, 3]).encode(
            x=alt.datum(0), y=alt.Y("low:Q"), y2=alt.Y2("high:Q")
        ),
    ]


def pattern(style: Style) -> alt.TopLevelMixin:
    """The plan view of recent shots."""
    words, (across, up) = style.words, _scales(style)
    corners = alt.Chart(alt.NamedData("frame")).mark_point(opacity=0).encode(x=across, y=up)
    tips = [
        alt.Tooltip("day:T", title=words("chart.day"), format="%-d %b %Y"),
        alt.Tooltip("carry:Q", title=words("chart.carry"), format=".0f"),
        alt.Tooltip("offline:Q", title=words("chart.offline"), format="+.0f"),
    ]
    shots = alt.Chart(alt.NamedData("rows")).mark_point(filled=True, color=theme.BLACK, opacity=0.5, size=40)
    rings = alt.Chart(alt.NamedData("rings")).mark_line(color=theme.BLUE, strokeWidth=1.5)
    return alt.layer(
        *_ground(),
        corners,
        rings.encode(x=alt.X("offline:Q"), y=alt.Y("carry:Q"), order=alt.Order("order:Q"), detail=alt.Detail("ring:N")),
        shots.encode(x=across, y=up, tooltip=tips),
    ).properties(width=PLAN_WIDTH, height=PLAN_HEIGHT)


CHARTS: dict[str, Template] = {"pattern": pattern}
