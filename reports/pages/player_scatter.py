"""The player's section on scatter: how wide, and the last shots drawn to scale."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from reports.chart_rows import ChartRows, rounded, tuple_rows
from reports.chart_shapes import plan_frame
from reports.markup import filled
from reports.pages.frame import Part
from reports.pages.parts import evidence, section
from reports.pages.trend_figure import findings, trend_figure, trend_rows
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts, Row

FAIRWAY_M = 30.0
"""Width of the stripe drawn for scale; said in the caption."""

LEAST_SHOTS = 5


_SHOTS: dict[str, Any] = {"day": pl.Date, "offline": pl.Float64, "carry": pl.Float64}
_RINGS: dict[str, Any] = {"offline": pl.Float64, "carry": pl.Float64, "order": pl.Int64, "ring": pl.String}


def _drawn(shots: Sequence[Row], factor: float) -> ChartRows:
    return tuple_rows(
        [(shot["on_date"], rounded(shot["offline_m"] * factor, 1), rounded(shot["carry_m"] * factor, 1)) for shot in shots],
        _SHOTS,
    )


def _plan_sets(shots: Sequence[Row], both: Sequence[Row], context: PageContext) -> dict[str, ChartRows]:
    """Data sets of one picture; the corners are those of all shots, so that two pictures have one scale."""
    factor = context.numbers.quantity("spread").factor
    whole = _drawn(both, factor).columns
    frame = plan_frame(whole["offline"], whole["carry"])
    half = round(FAIRWAY_M * factor / 2, 1)
    low, high = frame["carry"]
    fairway = {"left": [-half], "right": [half], "low": [low], "high": [high]}
    return {
        "rows": _drawn(shots, factor),
        "frame": ChartRows(frame, dict.fromkeys(frame, pl.Float64)),
        "fairway": ChartRows(fairway, dict.fromkeys(fairway, pl.Float64)),
        "rings": tuple_rows([], _RINGS),
    }


def _inside(shots: Sequence[Row]) -> int:
    return sum(abs(shot["offline_m"]) <= FAIRWAY_M / 2 for shot in shots)


def _plan_table(shots: Sequence[Row], context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("chart.day"), first=True),
        Head(words("chart.carry"), numbers.unit("spread"), number=True),
        Head(words("chart.offline"), numbers.unit("spread"), number=True),
    ]
    rows = [
        [
            words.short_day(row["on_date"]),
            numbers.bare("spread", row["carry_m"]),
            numbers.bare("spread", row["offline_m"], signed=True),
        ]
        for row in shots
    ]
    return table(heads, rows, caption=words("player.plan_table"))


def _plan(shots: Sequence[Row], both: Sequence[Row], key: str, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    width = numbers.with_unit("spread", FAIRWAY_M)
    first, last = (words.short_day(shots[place]["on_date"]) for place in (0, -1))
    days = first if first == last else words("numbers.interval", low=first, high=last)
    drives = words.count("side.drives", len(shots))
    caption = words("player.plan_caption", inside=words.number(_inside(shots), 0), n=drives, width=width)
    return context.figure(
        "pattern",
        _plan_sets(shots, both, context),
        title=words(f"player.plan_{key}", days=days, unit=numbers.unit("spread")),
        caption=caption,
        alt=words("player.plan_alt", n=drives, width=width),
        table=_plan_table(shots, context),
    )


def plan_figure(player: PlayerMarts, context: PageContext) -> Markup | None:
    """The last driver shots from above, beside those of half a year before; None with fewer than five."""
    return player.once(("plan",), lambda: _plan_figure(player, context))


def _plan_figure(player: PlayerMarts, context: PageContext) -> Markup | None:
    now, then = player.listed("mart_shot_recent"), player.listed("mart_shot_then")
    if len(now) < LEAST_SHOTS:
        return None
    if len(then) < LEAST_SHOTS:
        return _plan(now, now, "now", context)
    both = [*then, *now]
    return filled('<div class="pair">{}{}</div>', _plan(then, both, "then", context), _plan(now, both, "now", context))


def _wild_figure(player: PlayerMarts, context: PageContext) -> Markup | None:
    """The share of wild drives over time; not on the own page, where a flag says what there is to say."""
    return None if context.audience == "player" else trend_figure(player, context, "wild_pct", "driver")


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 40, before what the scatter costs in strokes; where no shot has a side, that nothing can be said of either."""
    rows = trend_rows(player, "scatter_side_m", "driver")
    figures = [
        figure
        for figure in (
            trend_figure(player, context, "scatter_side_m", "driver", said_above=True, plain=context.audience == "player"),
            _wild_figure(player, context),
            plan_figure(player, context),
        )
        if figure
    ]
    if figures:
        words = context.words
        blocks = figures if context.audience == "player" else [evidence(words("player.charts"), *figures)]
        answer = "" if rows.is_empty() else findings(player, rows, context)
        yield Part(38, section(words("player.scatter"), answer, *blocks, anchor="scatter"), label="scatter")
    elif no_side(player):
        yield Part(
            38, section(context.words("player.scatter"), context.words("player.no_side"), anchor="scatter"), label="scatter"
        )


def no_side(player: PlayerMarts) -> bool:
    """Whether shots have come, and none of them with a direction or a distance to the side."""
    return any(row["n_shots"] and not row["n_sided"] for row in player.listed("mart_player"))
