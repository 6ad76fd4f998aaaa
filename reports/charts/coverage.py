"""What came in which week: one line per player, one mark per week; darker with more days, hollow where only answers came.

Data set ``rows``: ``alias``, ``week`` (Monday), ``days`` (days with a session), ``answers`` (days answered).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt

from reports import theme

if TYPE_CHECKING:
    from reports.charts import Style, Template

STEP = 17
MONTH_LABEL = "month(datum.value) == 0 || datum.index == 0 ? timeFormat(datum.value, '%b %Y') : timeFormat(datum.value, '%b')"
"""Half a year has room for every month; the year stands with January and with the first label."""


def coverage(style: Style) -> alt.TopLevelMixin:
    """The weeks of many players."""
    words = style.words
    rows = alt.Chart(alt.NamedData("rows"))
    axis = alt.Axis(title=None, orient="top", tickCount={"interval": "month", "step": 1}, labelExpr=MONTH_LABEL, domain=False)
    names = alt.Axis(title=None, minExtent=92, maxExtent=92, labelLimit=90, grid=True, gridColor="#eeeeee")
    tips = [
        alt.Tooltip("alias:N", title=words("squad.player")),
        alt.Tooltip("week:T", title=words("chart.week"), format="%-d %b %Y"),
        alt.Tooltip("days:Q", title=words("chart.session_days")),
        alt.Tooltip("answers:Q", title=words("chart.answer_days")),
    ]
    across = alt.X("week:T", axis=axis, scale=alt.Scale(padding=8))
    base = rows.encode(x=across, y=alt.Y("alias:N", sort=None, axis=names), tooltip=tips)
    size = alt.Size("days:Q", scale=alt.Scale(domain=[0, 7], range=[12, 150]), legend=None)
    came = (
        base.transform_filter("datum.days > 0")
        .mark_point(shape="square", filled=True, color=theme.BLACK, opacity=0.75)
        .encode(size=size)
    )
    only = base.transform_filter("datum.days == 0 && datum.answers > 0").mark_point(
        shape="square", filled=False, color=theme.GREY, size=36
    )
    return alt.layer(came, only).properties(width=theme.CHART_WIDTH, height=alt.Step(STEP), usermeta={"edges": 114})


CHARTS: dict[str, Template] = {"coverage": coverage}
