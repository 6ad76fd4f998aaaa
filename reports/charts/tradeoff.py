"""Trade-off map: club speed across, scatter up, lines of equal strokes, and the path of a player through them.

Data sets of ``tradeoff``, speeds in the unit shown and scatter in degrees:

* ``frame``: two corners ``speed``, ``scatter``
* ``better``: ``speed``, ``scatter``: the upper edge of the side of fewer strokes
* ``lines``: ``speed``, ``scatter``, ``step``, ``kind`` (``same``, ``fewer``, ``more``)
* ``ends``: ``speed``, ``scatter``, ``words``: where a line says how many strokes it stands for
* ``path``: ``day``, ``speed``, ``scatter``: months in order
* ``now``: ``speed``, ``scatter``, their ends ``speed_low``, ``speed_high``, ``scatter_low``, ``scatter_high``, and ``words``: the
  last three months
* ``then``: ``speed``, ``scatter``, ``words``: the reference months
* ``proposals``: ``speed``, ``scatter``, ``words``: where a tried change would lead

Data sets of ``tradeoff_squad``: ``frame``; ``moves``: ``speed``, ``scatter``, ``speed_from``, ``scatter_from``, ``words`` and
``verdict`` (``costs``, ``saves``, ``open``); ``named``: the moves whose end is named, ``speed``, ``scatter``, ``words`` and
``place``, the scatter at whose height the name stands; ``lines`` and ``ends`` as above, behind the moves.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from reports import theme
from reports.chart_shapes import SQUAD_HEIGHT

if TYPE_CHECKING:
    from reports.charts import Style, Template

HEIGHT = 340
NAMES_WIDTH = 84
"""Room kept for names to the right of the squad's marks [px]."""
HALO = 5.0
"""Width of the pale edge of words: as wide as the gap between two of them, so that no line shows in it [px]."""


def _named(name: str) -> Any:
    return alt.Chart(alt.NamedData(name))


def _scales(style: Style, beside: int = 0) -> tuple[alt.X, alt.Y]:
    """Both axes; ``beside``: room kept to the right of the marks [px]."""
    words, numbers = style.words, style.numbers
    exact = alt.Scale(zero=False, nice=False, padding=0)
    across = alt.Axis(title=f"{words('chart.club_speed')}, {numbers.unit('speed')}", tickCount=6)
    up = alt.Axis(title=words("chart.scatter_deg"), titlePadding=4, tickCount=6, grid=False, minExtent=28, maxExtent=28)
    narrow = alt.Scale(zero=False, nice=False, padding=0, range=[0, {"expr": f"width - {beside}"}]) if beside else exact
    return alt.X("speed:Q", scale=narrow, axis=across), alt.Y("scatter:Q", scale=exact, axis=up)


def _corners(across: alt.X, up: alt.Y) -> Any:
    return _named("frame").mark_point(opacity=0).encode(x=across, y=up)


def _text(data: str, **mark: Any) -> list[Any]:
    """Text with a halo of paper, so that a line behind it does not cut through."""
    base = _named(data).encode(x=alt.X("speed:Q"), y=alt.Y("scatter:Q"), text=alt.Text("words:N"))
    halo = base.mark_text(stroke=theme.PAPER, strokeWidth=HALO, strokeJoin="round", **mark)
    return [halo, base.mark_text(color=mark.pop("fill", theme.BLACK), **mark)]


def _better() -> Any:
    """The side of fewer strokes, lightly shaded."""
    shade = _named("better").mark_area(color=theme.BLUE, opacity=0.07, clip=True)
    return shade.encode(x=alt.X("speed:Q"), y=alt.Y("scatter:Q"), y2=alt.value(HEIGHT))


def _lines() -> list[Any]:
    kind = alt.Color(
        "kind:N",
        scale=alt.Scale(domain=["same", "fewer", "more"], range=[theme.BLACK, theme.BLUE, theme.VERMILLION]),
        legend=None,
    )
    dash = alt.StrokeDash(
        "kind:N", scale=alt.Scale(domain=["same", "fewer", "more"], range=[[1, 0], [7, 3], [2, 3]]), legend=None
    )
    width = alt.condition("datum.kind == 'same'", alt.value(2.0), alt.value(1.2))
    lines = _named("lines").mark_line(clip=True, interpolate="monotone")
    drawn = lines.encode(
        x=alt.X("speed:Q"), y=alt.Y("scatter:Q"), detail=alt.Detail("step:Q"), color=kind, strokeDash=dash, strokeWidth=width
    )
    return [drawn, *_text("ends", align="right", baseline="middle", dx=-2, fontSize=11, clip=True)]


def _path(style: Style) -> list[Any]:
    words = style.words
    tips = [
        alt.Tooltip("day:T", title=words("chart.month"), format="%b %Y"),
        alt.Tooltip("speed:Q", title=words("chart.club_speed"), format=".1f"),
        alt.Tooltip("scatter:Q", title=words("chart.scatter_deg"), format=".1f"),
    ]
    path = _named("path").encode(x=alt.X("speed:Q"), y=alt.Y("scatter:Q"))
    return [
        path.mark_line(color=theme.GREY, strokeWidth=1.0, clip=True).encode(order=alt.Order("day:T")),
        path.mark_point(color=theme.GREY, filled=True, size=16, opacity=1, clip=True).encode(tooltip=tips),
    ]


def _places() -> list[Any]:
    now, then, proposals = _named("now"), _named("then"), _named("proposals")
    cross = {"color": theme.BLACK, "strokeWidth": 1.6, "clip": True}
    return [
        now.mark_rule(**cross).encode(x=alt.X("speed_low:Q"), x2=alt.X2("speed_high:Q"), y=alt.Y("scatter:Q")),
        now.mark_rule(**cross).encode(x=alt.X("speed:Q"), y=alt.Y("scatter_low:Q"), y2=alt.Y2("scatter_high:Q")),
        then.mark_point(shape="circle", filled=True, fill=theme.PAPER, stroke=theme.BLACK, size=90, strokeWidth=1.8).encode(
            x=alt.X("speed:Q"), y=alt.Y("scatter:Q")
        ),
        now.mark_point(shape="circle", filled=True, color=theme.BLACK, size=110, opacity=1).encode(
            x=alt.X("speed:Q"), y=alt.Y("scatter:Q")
        ),
        proposals.mark_point(shape="diamond", fill=theme.PAPER, stroke=theme.BLACK, size=100, strokeWidth=1.6, clip=True).encode(
            x=alt.X("speed:Q"), y=alt.Y("scatter:Q")
        ),
        *_text("proposals", align="left", baseline="middle", dx=9, fontSize=11.5, clip=True),
        *_text("then", align="center", baseline="top", dy=10, fontSize=12),
        *_text("now", align="center", baseline="bottom", dy=-11, fontSize=12, fontWeight="bold"),
    ]


def tradeoff(style: Style) -> alt.TopLevelMixin:
    """One player on one course."""
    across, up = _scales(style)
    layers = [_corners(across, up), _better(), *_lines(), *_path(style), *_places()]
    return alt.layer(*layers).properties(
        width=theme.CHART_WIDTH, height=HEIGHT, name="tradeoff", usermeta={"leaders": ["now", "then", "proposals"]}
    )


VERDICTS = ("costs", "saves", "open")


def _squad_lines() -> list[Any]:
    lines = _named("lines").mark_line(color=theme.GREY, strokeWidth=0.9, strokeDash=[5, 3], clip=True)
    return [
        lines.encode(x=alt.X("speed:Q"), y=alt.Y("scatter:Q"), detail=alt.Detail("step:Q")),
        *_text("ends", align="left", baseline="bottom", dx=2, dy=-2, fontSize=10.5, fill=theme.GREY),
    ]


def _names_beside() -> list[Any]:
    """Each name at its own height to the right, with a thin line to its mark."""
    named, edge = _named("named"), alt.value({"expr": f"width - {NAMES_WIDTH - 8}"})
    leader = named.mark_rule(color=theme.GREY, strokeWidth=0.7).encode(
        x=alt.X("speed:Q"), y=alt.Y("scatter:Q"), x2=edge, y2=alt.Y2("place:Q")
    )
    text = named.mark_text(align="left", baseline="middle", dx=3, fontSize=11).encode(
        x=edge, y=alt.Y("place:Q"), text=alt.Text("words:N")
    )
    return [leader, text]


def tradeoff_squad(style: Style) -> alt.TopLevelMixin:
    """Where every player has moved from the reference months to the last three months."""
    across, up = _scales(style, NAMES_WIDTH)
    colour = alt.Color(
        "verdict:N", scale=alt.Scale(domain=list(VERDICTS), range=[theme.VERMILLION, theme.BLUE, theme.GREY]), legend=None
    )
    shape = alt.Shape("verdict:N", scale=alt.Scale(domain=list(VERDICTS), range=["triangle-up", "square", "circle"]), legend=None)
    moves = _named("moves").encode(color=colour)
    words = style.words
    tips = [
        alt.Tooltip("words:N", title=words("tradeoff.player")),
        alt.Tooltip("speed:Q", title=words("chart.club_speed"), format=".1f"),
        alt.Tooltip("scatter:Q", title=words("chart.scatter_deg"), format=".1f"),
    ]
    return alt.layer(
        _corners(across, up),
        *_squad_lines(),
        moves.mark_rule(strokeWidth=1.4).encode(
            x=alt.X("speed_from:Q"), y=alt.Y("scatter_from:Q"), x2=alt.X2("speed:Q"), y2=alt.Y2("scatter:Q")
        ),
        moves.mark_point(filled=True, size=70, opacity=1).encode(
            x=alt.X("speed:Q"), y=alt.Y("scatter:Q"), shape=shape, tooltip=tips
        ),
        *_names_beside(),
    ).properties(width=theme.CHART_WIDTH, height=SQUAD_HEIGHT, name="tradeoff_squad")


CHARTS: dict[str, Template] = {"tradeoff": tradeoff, "tradeoff_squad": tradeoff_squad}
