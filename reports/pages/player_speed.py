"""The player's sections on speed: whether it is real, and whether it reaches the ball."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.chart_rows import ChartRows
from reports.chart_shapes import REACH_METRICS
from reports.findings.flags import capital, metric_name
from reports.findings.reach import reach_sentence
from reports.findings.trend import change_text, ends_text, level_now_texts, verdict
from reports.numbers import DASH
from reports.pages.frame import Part
from reports.pages.parts import evidence, section
from reports.pages.trend_figure import broken, findings, trend_columns, trend_figure, trend_rows, week_ends
from reports.story import as_of_now
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

GROUPS = ("driver", "iron")
_DRAWN = ("level", "low", "high")


def _is_it_real(player: PlayerMarts, context: PageContext) -> Markup:
    words = context.words
    key = "player.real_own" if context.audience == "player" else "player.real"
    groups = GROUPS if context.audience != "player" else GROUPS[1:]  # the driver's stands at the top of the own page
    figures = [
        figure
        for group in groups
        if (figure := trend_figure(player, context, "club_speed_mps", group, said_above=group == "driver"))
    ]
    driver = trend_rows(player, "club_speed_mps", "driver")
    answer = words("player.no_driver") if driver.is_empty() else findings(player, driver, context)
    if not figures and driver.is_empty():
        return section(words(key), words("player.no_speed"), anchor="speed")
    shown, behind = (figures, []) if context.audience == "player" else (figures[:1], figures[1:])
    return section(words(key), answer, *shown, evidence(words("player.other_clubs"), *behind), anchor="speed")


def _reach_rows(player: PlayerMarts, context: PageContext) -> ChartRows:
    """One row a week, with level, low and high of each metric, and whether its line stops there."""
    by_week: dict[date, dict[str, Any]] = {}
    for metric in REACH_METRICS:
        columns = trend_columns(player, context, metric, "driver")
        days = columns["day"]
        weeks = {days[at] - timedelta(days=days[at].weekday()): at for at in week_ends(days)}
        for week, at in broken(sorted(weeks.items())):
            values = {f"{name}_{metric}": columns[name][at] for name in _DRAWN} if at is not None else {f"stops_{metric}": True}
            by_week.setdefault(week, {}).update(values)
    kinds: dict[str, Any] = {f"{name}_{metric}": pl.Float64 for metric in REACH_METRICS for name in _DRAWN}
    kinds |= {f"stops_{metric}": pl.Boolean for metric in REACH_METRICS}
    known = sorted(by_week)
    return ChartRows(
        {"day": known, **{name: [by_week[week].get(name) for week in known] for name in kinds}}, {"day": pl.Date, **kinds}
    )


def _reach_table(player: PlayerMarts, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("player.quantity"), first=True),
        Head(words("player.level_now"), number=True),
        Head(words("player.change_28"), number=True),
        Head(words("player.interval"), number=True),
    ]
    cells: list[list[str | Cell]] = []
    for metric in REACH_METRICS:
        rows = trend_rows(player, metric, "driver")
        if rows.height:
            row = as_of_now(rows.row(-1, named=True), player)
            known = verdict(row) != "past" and row["change_28"] is not None
            interval = ends_text(row, "change_28_low", "change_28_high", metric, numbers)
            change = [change_text(metric, row["change_28"], numbers), interval] if known else [DASH] * 2
            level, since = level_now_texts(row, numbers)
            cells.append([capital(metric_name(metric, words)), Cell(level, note=since), *change])
    return table(heads, cells, caption=words("player.reach_table"), kind="stack")


def _does_it_reach(player: PlayerMarts, context: PageContext) -> Markup:
    words = context.words
    newest = {metric: trend_rows(player, metric, "driver") for metric in REACH_METRICS}
    last = {metric: as_of_now(rows.row(-1, named=True), player) for metric, rows in newest.items() if rows.height}
    if len(last) < 2:
        return section(words("player.reach"), words("player.no_ball"), anchor="ball")
    said = reach_sentence(last, context.numbers)
    figure = player.once(("reach",), lambda: _reach_figure(player, context))
    block = figure if context.audience == "player" else evidence(words("player.charts"), figure)
    return section(words("player.reach"), said, block, anchor="ball")


def _reach_figure(player: PlayerMarts, context: PageContext) -> Markup:
    """The four charts, the same for every reader."""
    words = context.words
    return context.figure(
        "reach",
        {"rows": _reach_rows(player, context)},
        title=words("player.reach_title"),
        caption=words("player.reach_caption"),
        alt=words("player.reach_alt"),
        table=_reach_table(player, context),
    )


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Sections 20 and 30."""
    yield Part(20, _is_it_real(player, context), label="speed")
    yield Part(30, _does_it_reach(player, context), label="ball")
