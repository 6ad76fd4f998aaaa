"""Changes side by side: one line per row, a mark with its 90 % interval, zero as a line.

Data set ``rows``, in the order drawn: ``label``, ``value``, ``low``, ``high`` (unit shown), ``called`` (up, down, open), ``n``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt

from reports import theme

if TYPE_CHECKING:
    from reports.charts import Style, Template

STEP = 20
SIGNED = "datum.value == 0 ? '0' : datum.label"
"""Zero bears no sign."""
SHAPES = {"up": "triangle-up", "down": "triangle-down", "open": "circle"}
FILLS = {"up": theme.BLACK, "down": theme.BLACK, "open": theme.PAPER}


def forest(style: Style) -> alt.TopLevelMixin:
    """Rows of changes with intervals."""
    words = style.words
    rows = alt.Chart(alt.NamedData("rows"))
    names = alt.Axis(title=None, minExtent=150, maxExtent=150, labelLimit=146, grid=False)
    base = rows.encode(y=alt.Y("label:N", sort=None, axis=names))
    axis = alt.Axis(title=None, grid=True, tickCount=6, format="+f", labelExpr=SIGNED)
    across = alt.X("value:Q", axis=axis, scale=alt.Scale(zero=True))
    tips = [
        alt.Tooltip("label:N", title=words("squad.player")),
        alt.Tooltip("value:Q", title=words("chart.change"), format="+.1f"),
        alt.Tooltip("low:Q", title=words("chart.low"), format="+.1f"),
        alt.Tooltip("high:Q", title=words("chart.high"), format="+.1f"),
        alt.Tooltip("n:Q", title=words("chart.sessions")),
    ]
    zero = alt.Chart(alt.NamedData("rows")).mark_rule(color=theme.GREY).encode(x=alt.datum(0))
    span = base.mark_rule(color=theme.BLACK, strokeWidth=1.4).encode(x=alt.X("low:Q"), x2=alt.X2("high:Q"))
    mark = base.mark_point(size=70, color=theme.BLACK, opacity=1, strokeWidth=1.5).encode(
        x=across,
        shape=alt.Shape("called:N", scale=alt.Scale(domain=list(SHAPES), range=list(SHAPES.values())), legend=None),
        fill=alt.Fill("called:N", scale=alt.Scale(domain=list(FILLS), range=list(FILLS.values())), legend=None),
        tooltip=tips,
    )
    return alt.layer(zero, span, mark).properties(width=theme.CHART_WIDTH, height=alt.Step(STEP), usermeta={"edges": 180})


CHARTS: dict[str, Template] = {"forest": forest}
