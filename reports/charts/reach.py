"""How speed reaches the ball: small charts below each other with the same days across, each with its own unit.

Data set ``rows``: ``day``, and for each metric ``level_METRIC``, ``low_METRIC``, ``high_METRIC``, in the unit shown, and
``stops_METRIC``: the line stops there, for a break follows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme
from reports.chart_shapes import REACH_METRICS
from reports.charts.lanes import month_axis
from reports.findings.flags import capital
from reports.numbers import METRIC_QUANTITY

if TYPE_CHECKING:
    from reports.charts import Style, Template

HEIGHT = 84


def _title(metric: str, style: Style) -> alt.TitleParams:
    unit = style.numbers.unit(METRIC_QUANTITY[metric])
    text = capital(style.words(f"metric.{metric}")) + (f", {unit}" if unit else "")
    return alt.TitleParams(text, anchor="start", fontSize=12, fontWeight="normal", color=theme.GREY, offset=4, frame="group")


def _panel(metric: str, style: Style, *, last: bool) -> Any:
    axis = month_axis(labels=last, ticks=last)
    across = alt.X("day:T", axis=axis)
    rows = (
        alt.Chart(alt.NamedData("rows"))
        .transform_filter(f"isValid(datum.level_{metric}) || datum.stops_{metric}")
        .encode(x=across)
    )
    up = alt.Scale(zero=False, nice=True)
    number = ".2f" if metric == "speed_ratio" else ".1f"
    tips = [
        alt.Tooltip("day:T", title=style.words("chart.day"), format="%-d %b %Y"),
        alt.Tooltip(f"level_{metric}:Q", title=style.words("chart.level"), format=number),
        alt.Tooltip(f"low_{metric}:Q", title=style.words("chart.low"), format=number),
        alt.Tooltip(f"high_{metric}:Q", title=style.words("chart.high"), format=number),
    ]
    band = rows.mark_area(color=theme.BLACK, opacity=0.14).encode(
        y=alt.Y(f"low_{metric}:Q", scale=up, axis=alt.Axis(title=None, tickCount=3)), y2=alt.Y2(f"high_{metric}:Q")
    )
    line = rows.mark_line(color=theme.BLACK, point=alt.OverlayMarkDef(size=14, opacity=0)).encode(
        y=alt.Y(f"level_{metric}:Q", scale=up), tooltip=tips
    )
    return alt.layer(band, line).properties(
        width=theme.CHART_WIDTH, height=HEIGHT, title=_title(metric, style), name=f"reach_{metric}"
    )


def reach(style: Style) -> Any:
    """Club speed, ball speed, speed ratio and carry, one below the other."""
    panels = [_panel(metric, style, last=metric == REACH_METRICS[-1]) for metric in REACH_METRICS]
    return alt.vconcat(*panels, spacing=8).resolve_scale(x="shared", y="independent")


CHARTS: dict[str, Template] = {"reach": reach}
