"""Load as it was done, with its two lines; and how many of the squad have a problem, week by week.

Data sets of ``load``: ``rows``: ``day``, ``value`` (null: unknown);
``lines``: ``day``, ``value``, ``line`` (``acute``, ``chronic``, in words).
Data set ``rows`` of ``prevalence``: ``day``, ``share``, ``low``, ``high``, ``what`` (in words), ``n``.
Both have lanes above: :mod:`reports.charts.lanes`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme
from reports.charts.lanes import LANES, moments, month_axis, spans

if TYPE_CHECKING:
    from reports.charts import Style, Template

HEIGHT = 170 + LANES


def _across() -> alt.X:
    axis = month_axis()
    return alt.X("day:T", axis=axis, scale=alt.Scale(padding=6))


def load(style: Style) -> Any:
    """Each day as a bar, unknown days as small crosses on the axis, the two lines with their names above the picture."""
    words = style.words
    scale = alt.Scale(range=[HEIGHT, LANES], domainMin=0)
    across, up = _across(), alt.Y("value:Q", axis=alt.Axis(title=None, tickCount=4), scale=scale)
    day = alt.Tooltip("day:T", title=words("chart.day"), format="%-d %b %Y")
    value = alt.Tooltip("value:Q", title=words("chart.value"), format=".0f")
    rows = alt.Chart(alt.NamedData("rows")).encode(x=across)
    bars = rows.transform_filter("isValid(datum.value)").mark_bar(color="#b3b3b3", width=3).encode(y=up, tooltip=[day, value])
    unknown = (
        rows.transform_filter("!isValid(datum.value)")
        .mark_text(text="×", color=theme.GREY, fontSize=10, dy=-5)
        .encode(y=alt.value(HEIGHT), tooltip=[day])
    )
    legend = alt.Legend(title=None, orient="top", symbolType="stroke", symbolSize=300, offset=2)
    lines = (
        alt.Chart(alt.NamedData("lines"))
        .mark_line(strokeWidth=2)
        .encode(
            x=across,
            y=up,
            color=alt.Color("line:N", scale=alt.Scale(range=[theme.BLACK, theme.BLUE]), legend=legend, sort=None),
            strokeDash=alt.StrokeDash("line:N", scale=alt.Scale(range=[[1, 0], [6, 3]]), legend=legend, sort=None),
        )
    )
    known = (*spans(across, style), *moments(across, style, HEIGHT))
    return alt.layer(bars, unknown, lines, *known).properties(width=theme.CHART_WIDTH, height=HEIGHT)


def prevalence(style: Style) -> Any:
    """Shares with their intervals: any problem as circles, substantial ones as squares."""
    words, height, across = style.words, theme.CHART_HEIGHT + LANES, _across()
    base: Any = alt.Chart(alt.NamedData("rows")).encode(
        x=across,
        color=alt.Color("what:N", scale=alt.Scale(range=[theme.BLACK, theme.VERMILLION]), legend=None, sort=None),
        tooltip=[
            alt.Tooltip("day:T", title=words("chart.week"), format="%-d %b %Y"),
            alt.Tooltip("what:N", title=words("chart.value")),
            alt.Tooltip("share:Q", title="%", format=".0f"),
            alt.Tooltip("n:Q", title=words("chart.n")),
        ],
    )
    up = alt.Y("share:Q", axis=alt.Axis(title=None, tickCount=5), scale=alt.Scale(domainMin=0, range=[height, LANES]))
    rule = base.mark_rule(opacity=0.45).encode(y=alt.Y("low:Q"), y2=alt.Y2("high:Q"))
    shape = alt.Shape("what:N", scale=alt.Scale(range=["circle", "square"]), legend=None, sort=None)
    size = alt.Size("what:N", scale=alt.Scale(range=[120, 45]), legend=None, sort=None)  # the square leaves a rim of its circle
    mark = base.mark_point(filled=True, opacity=1).encode(y=up, shape=shape, size=size)
    known = (*spans(across, style), *moments(across, style, height))
    layers = alt.layer(rule, mark, *known).properties(width=theme.CHART_WIDTH, height=height)
    return layers.resolve_scale(shape="independent")


CHARTS: dict[str, Template] = {"load": load, "prevalence": prevalence}
