"""Load as it was done, with its two lines; and how many of the squad have a problem, week by week.

Data sets of ``load``: ``rows``: ``day``, ``value`` (null: unknown), ``kind`` (``known``, ``rest``, ``unknown``);
``lines``: ``day``, ``value``, ``line`` (``acute``, ``chronic``, in words).
Data set ``rows`` of ``prevalence``: ``day``, ``share``, ``low``, ``high``, ``what`` (in words), ``n``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme
from reports.charts.trend import MONTH_LABEL

if TYPE_CHECKING:
    from reports.charts import Style, Template

HEIGHT = 170


def _across() -> alt.X:
    axis = alt.Axis(title=None, tickCount={"interval": "month", "step": 1}, labelExpr=MONTH_LABEL)
    return alt.X("day:T", axis=axis, scale=alt.Scale(padding=6))


def load(style: Style) -> alt.TopLevelMixin:
    """Each day as a bar, unknown days as small crosses on the axis, and the two lines apart."""
    words = style.words
    across, up = _across(), alt.Y("value:Q", axis=alt.Axis(title=None, tickCount=4))
    day = alt.Tooltip("day:T", title=words("chart.day"), format="%-d %b %Y")
    value = alt.Tooltip("value:Q", title=words("chart.value"), format=".0f")
    rows = alt.Chart(alt.NamedData("rows")).encode(x=across)
    bars = rows.transform_filter("datum.kind == 'known'").mark_bar(color="#b3b3b3", width=3).encode(y=up, tooltip=[day, value])
    unknown = (
        rows.transform_filter("datum.kind == 'unknown'")
        .mark_text(text="×", color=theme.GREY, fontSize=10, dy=-5)
        .encode(y=alt.value(HEIGHT), tooltip=[day])
    )
    lines = (
        alt.Chart(alt.NamedData("lines"))
        .mark_line(strokeWidth=2)
        .encode(
            x=across,
            y=up,
            color=alt.Color("line:N", scale=alt.Scale(range=[theme.BLACK, theme.BLUE]), legend=None, sort=None),
            strokeDash=alt.StrokeDash("line:N", scale=alt.Scale(range=[[1, 0], [6, 3]]), legend=None, sort=None),
        )
    )
    names = (
        alt.Chart(alt.NamedData("lines"))
        .transform_window(rank="row_number()", sort=[{"field": "day", "order": "descending"}], groupby=["line"])
        .transform_filter("datum.rank == 1")
        .transform_window(place="row_number()", sort=[{"field": "line"}])
        .mark_text(align="right", dx=-2, baseline="top", fontWeight="bold")
        .encode(
            x=across,
            y=alt.value({"expr": "15 * (datum.place - 1)"}),
            text="line:N",
            color=alt.Color("line:N", scale=alt.Scale(range=[theme.BLACK, theme.BLUE]), legend=None, sort=None),
        )
    )
    return alt.layer(bars, unknown, lines, names).properties(width=theme.CHART_WIDTH, height=HEIGHT)


def prevalence(style: Style) -> alt.TopLevelMixin:
    """Shares with their intervals: any problem as circles, substantial ones as squares."""
    words = style.words
    base: Any = alt.Chart(alt.NamedData("rows")).encode(
        x=_across(),
        color=alt.Color("what:N", scale=alt.Scale(range=[theme.BLACK, theme.VERMILLION]), legend=None, sort=None),
        tooltip=[
            alt.Tooltip("day:T", title=words("chart.week"), format="%-d %b %Y"),
            alt.Tooltip("what:N", title=words("chart.value")),
            alt.Tooltip("share:Q", title="%", format=".0f"),
            alt.Tooltip("n:Q", title=words("chart.n")),
        ],
    )
    up = alt.Y("share:Q", axis=alt.Axis(title=None, tickCount=5), scale=alt.Scale(domainMin=0))
    rule = base.mark_rule(opacity=0.45).encode(y="low:Q", y2="high:Q")
    shape = alt.Shape("what:N", scale=alt.Scale(range=["circle", "square"]), legend=None, sort=None)
    mark = base.mark_point(filled=True, size=55, opacity=1).encode(y=up, shape=shape)
    return alt.layer(rule, mark).properties(width=theme.CHART_WIDTH, height=theme.CHART_HEIGHT)


CHARTS: dict[str, Template] = {"load": load, "prevalence": prevalence}
