"""Estimates below each other, each a mark with its 90 % interval: levels of groups of persons, or effects of academies.

Data set ``rows``, in the order drawn: ``label``, ``value``, ``low``, ``high`` (unit shown), ``n`` (persons), ``kind`` (one: a
group or an academy; all: brought together; next: where a further academy is expected, without a mark).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme

if TYPE_CHECKING:
    from reports.charts import Style, Template

STEP = 24
SHAPES = {"one": "circle", "all": "diamond"}


def _estimates(style: Style, *, sign: str, from_zero: bool) -> alt.TopLevelMixin:
    words = style.words
    rows = alt.Chart(alt.NamedData("rows"))
    names = alt.Axis(title=None, minExtent=150, maxExtent=150, labelLimit=146, grid=False)
    base = rows.encode(y=alt.Y("label:N", sort=None, axis=names))
    across = alt.X(
        "value:Q",
        axis=alt.Axis(title=None, grid=True, tickCount=6, format=f"{sign}f"),
        scale=alt.Scale(zero=from_zero, nice=True),
    )
    tips = [
        alt.Tooltip("label:N", title=words("federation.of")),
        alt.Tooltip("value:Q", title=words("chart.level"), format=f"{sign}.1f"),
        alt.Tooltip("low:Q", title=words("chart.low"), format=f"{sign}.1f"),
        alt.Tooltip("high:Q", title=words("chart.high"), format=f"{sign}.1f"),
        alt.Tooltip("n:Q", title=words("federation.persons")),
    ]
    dash: Any = alt.condition("datum.kind === 'next'", alt.value([4, 3]), alt.value([1, 0]))
    span = base.mark_rule(color=theme.BLACK, strokeWidth=1.4).encode(x=alt.X("low:Q"), x2=alt.X2("high:Q"), strokeDash=dash)
    mark = (
        base.transform_filter("datum.kind !== 'next'")
        .mark_point(size=70, color=theme.BLACK, opacity=1, filled=True)
        .encode(
            x=across,
            shape=alt.Shape("kind:N", scale=alt.Scale(domain=list(SHAPES), range=list(SHAPES.values())), legend=None),
            tooltip=tips,
        )
    )
    zero = [alt.Chart(alt.NamedData("rows")).mark_rule(color=theme.GREY).encode(x=alt.datum(0))] if from_zero else []
    return alt.layer(*zero, span, mark).properties(width=theme.CHART_WIDTH, height=alt.Step(STEP), usermeta={"edges": 170})


def group_levels(style: Style) -> alt.TopLevelMixin:
    """Levels, on a scale of their own."""
    return _estimates(style, sign="", from_zero=False)


def academy_effects(style: Style) -> alt.TopLevelMixin:
    """Effects, with zero as a line."""
    return _estimates(style, sign="+", from_zero=True)


CHARTS: dict[str, Template] = {"group_levels": group_levels, "academy_effects": academy_effects}
