"""Where a gain of speed goes on its way to carry: one bar for each part, in the order in which they arise.

Data set ``rows``: ``part`` (in words), ``place`` (order), ``value`` (length in the unit shown), ``words`` (the value as printed),
``kind`` (``offer``, ``gain``, ``loss``, ``sum``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt

from reports import theme

if TYPE_CHECKING:
    from reports.charts import Style, Template

ROW_HEIGHT = 28
_BY_SIGN = {"align": alt.expr("datum.value < 0 ? 'right' : 'left'"), "dx": alt.expr("datum.value < 0 ? -5 : 5")}
"""The value is printed beyond the end of its bar."""


def transfer(style: Style) -> alt.TopLevelMixin:
    """Bars from zero: what was on offer, what came on top or was lost, and what arrived."""
    unit = style.numbers.unit("spread")
    names = alt.Axis(title=None, ticks=False, domain=False, labelLimit=180, minExtent=150, maxExtent=150)
    up = alt.Y("part:N", sort=alt.EncodingSortField("place", op="min"), axis=names)
    across = alt.X("value:Q", axis=alt.Axis(title=unit, tickCount=6), scale=alt.Scale(padding=44))
    kinds = ["offer", "gain", "loss", "sum"]
    colour = alt.Color(
        "kind:N", scale=alt.Scale(domain=kinds, range=[theme.GREY, theme.BLUE, theme.VERMILLION, theme.BLACK]), legend=None
    )
    base = alt.Chart(alt.NamedData("rows")).encode(y=up)
    return alt.layer(
        base.mark_bar(size=15).encode(x=across, color=colour),
        base.mark_rule(color=theme.GREY).encode(x=alt.datum(0)),
        base.mark_text(align=_BY_SIGN["align"], dx=_BY_SIGN["dx"]).encode(x=alt.X("value:Q"), text=alt.Text("words:N")),
    ).properties(width=theme.CHART_WIDTH, height=alt.Step(ROW_HEIGHT), name="transfer", usermeta={"edges": 192})


CHARTS: dict[str, Template] = {"transfer": transfer}
