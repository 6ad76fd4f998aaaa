"""The figure of a trend: data sets of the chart ``trend`` from marts, and the table of months behind it."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from functools import cache
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.chart_rows import ChartRows, tuple_rows
from reports.findings.flags import capital, club_name, metric_name
from reports.findings.trend import own_sentence, since_sentence, trend_sentence, verdict
from reports.numbers import METRIC_QUANTITY
from reports.pages.trend_marks import ODD, marked_flags, marks_table, moments, on_trend, planned_spans, spans
from reports.story import as_flagged, as_of_now, record_of
from reports.tables import Head, table
from schemas.trend_metrics import TREND_METRICS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from reports.pages.context import PageContext
    from reports.pages.trend_marks import Flag, Marked
    from reports.words import Words
    from warehouse.marts import PlayerMarts

__all__ = ["findings", "trend_columns", "trend_figure", "trend_rows", "week_ends"]

DAY, BREAK = timedelta(days=1), timedelta(days=120)
"""Time without a session for which a line stops (own choice): who comes every quarter keeps theirs."""
NORMAL_WIDTH = 1.645
"""Standard deviations on either side of the own normal: nine sessions of ten lie inside."""


def trend_rows(player: PlayerMarts, metric: str, group: str) -> pl.DataFrame:
    """Rows of one trend by day: the main series, or where there is none the one with most sessions."""
    return player.once(("trend", metric, group), lambda: _main_series(player, metric, group))


def _main_series(player: PlayerMarts, metric: str, group: str) -> pl.DataFrame:
    rows = player.part("mart_trend", metric=metric, club_group=group)
    n_of = Counter(rows["series"].to_list())
    if len(n_of) < 2:
        return rows
    return rows.filter(pl.col("series") == min(n_of, key=lambda series: (series != "", -n_of[series], series)))


def week_ends(days: Sequence[date]) -> list[int]:
    """Places of the last day of each week: enough for a line over months."""
    weeks = [(day.toordinal() - 1) // 7 for day in days]
    return [place for place, week in enumerate(weeks) if place + 1 == len(weeks) or week != weeks[place + 1]]


def _normal(metric: str) -> tuple[pl.Expr, pl.Expr]:
    """Lower and upper edge of the own normal; a share is never below 0."""
    away = pl.col("usual_sd") * NORMAL_WIDTH
    if TREND_METRICS[metric].is_relative:
        away = pl.col("usual") * pl.col("usual_sd") / 100 * NORMAL_WIDTH
    low = pl.col("usual") - away
    return low.clip(0.0) if TREND_METRICS[metric].change_unit == "points" else low, pl.col("usual") + away


def trend_columns(player: PlayerMarts, context: PageContext, metric: str, group: str) -> dict[str, list[Any]]:
    """One trend as lists by column: days, shots, devices, the level as it is known, and what is drawn as it is shown."""
    return player.once(("trend columns", metric, group), lambda: _columns(trend_rows(player, metric, group), context, metric))


def _columns(rows: pl.DataFrame, context: PageContext, metric: str) -> dict[str, list[Any]]:
    how = context.numbers.quantity(METRIC_QUANTITY[metric])
    return rows.select(_wanted(metric, how.factor, how.digits + 1)).to_dict(as_series=False)


@cache
def _wanted(metric: str, factor: float, digits: int) -> list[pl.Expr]:
    """The columns of a trend: building the expressions takes longer than reading by them."""
    low, high = _normal(metric)
    drawn = {
        "value": pl.col("value"),
        "level": pl.col("level"),
        "low": pl.col("level_low"),
        "high": pl.col("level_high"),
        "normal_low": low,
        "normal_high": high,
    }
    return [
        pl.col("on_date").alias("day"),
        pl.col("device_id").alias("note"),
        (pl.col("odd") > ODD).alias("odd"),
        pl.col("n"),
        pl.col("level").alias("known_level"),
        pl.col("level_low", "level_high"),
        *((value * factor).round(digits).alias(name) for name, value in drawn.items()),
    ]


_SESSIONS: dict[str, Any] = {"day": pl.Date, "value": pl.Float64, "odd": pl.Boolean, "n": pl.Int64, "note": pl.String}
_BAND: dict[str, Any] = {"day": pl.Date, "low": pl.Float64, "high": pl.Float64}


def _drawn(columns: dict[str, list[Any]]) -> dict[str, ChartRows]:
    """Sessions, level and own normal: what is drawn for every reader alike."""
    days, weeks = columns["day"], week_ends(columns["day"])
    level = [tuple(columns[name][place] for name in ("day", "level", "low", "high")) for place in weeks]
    normal = [(days[place], columns["normal_low"][place], columns["normal_high"][place]) for place in weeks]
    return {
        "rows": ChartRows({name: columns[name] for name in _SESSIONS}, _SESSIONS),
        "level": tuple_rows(broken(level), {"day": pl.Date, "level": pl.Float64, "low": pl.Float64, "high": pl.Float64}),
        "normal": tuple_rows(broken([one for one in normal if None not in one]), _BAND),
    }


def broken(points: Sequence[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Points of a line by day, with an empty one in a break: of that nothing is drawn as if it were known."""
    found: list[tuple[Any, ...]] = []
    for point in points:
        if found and point[0] - found[-1][0] > BREAK:
            found.append((found[-1][0] + DAY, *(None for _ in point[1:])))
        found.append(point)
    return found


def _sets(
    player: PlayerMarts, context: PageContext, rows: pl.DataFrame, marked: Marked, flags: tuple[Flag, ...]
) -> dict[str, ChartRows]:
    """Data sets of the chart ``trend``."""
    metric, group = rows["metric"][0], rows["club_group"][0]
    return {
        **player.once(("trend drawn", metric, group), lambda: _drawn(trend_columns(player, context, metric, group))),
        "spans": spans(player, context, marked, flags),
        "moments": moments(context, marked, flags, rows),
    }


def _month_ends(columns: dict[str, list[Any]]) -> list[tuple[int, int, int]]:
    """Of each month the place of its last session, and how many sessions and shots it has."""
    found: dict[tuple[int, int], tuple[int, int, int]] = {}
    for place, (day, n) in enumerate(zip(columns["day"], columns["n"], strict=True)):
        _, n_sessions, n_shots = found.get((day.year, day.month), (0, 0, 0))
        found[day.year, day.month] = (place, n_sessions + 1, n_shots + n)
    return list(found.values())


def month_table(columns: dict[str, list[Any]], context: PageContext, metric: str) -> Markup:
    """The data behind a trend: the level at the end of each month, its interval, and what stands behind it."""
    words, numbers, quantity = context.words, context.numbers, METRIC_QUANTITY[metric]
    name, unit = capital(metric_name(metric, words)), context.numbers.unit(METRIC_QUANTITY[metric])
    heads = [
        Head(words("player.month"), first=True),
        Head(name, unit, number=True),
        Head(words("player.interval"), unit, number=True),
        Head(words("player.sessions"), number=True),
        Head(words("player.shots"), number=True),
    ]
    cells = [
        [
            words.short_month(columns["day"][place]),
            numbers.bare(quantity, columns["known_level"][place]),
            numbers.interval(quantity, columns["level_low"][place], columns["level_high"][place]),
            words.number(n_sessions, 0),
            words.number(n_shots, 0),
        ]
        for place, n_sessions, n_shots in _month_ends(columns)
    ]
    return table(heads, cells, caption=words("player.by_month", metric=name), kind="stack")


def findings(player: PlayerMarts, rows: pl.DataFrame, context: PageContext) -> str:
    """What the trend says now, and against a year ago; of the driver's speed both come from the player's record."""
    last = rows.row(-1, named=True)
    metric, group = last["metric"], last["club_group"]
    record = record_of(player)
    last = as_of_now(last, player)
    if (metric, group) == ("club_speed_mps", "driver"):
        last, then = record.speed or last, record.then
    else:
        found = player.listed("mart_lasting", metric=metric, club_group=group, against="year")
        then = next((row for row in found if row["now_on"] == last["on_date"]), None)
    last = as_flagged(last, record)
    said = own_sentence(last, context.numbers) if context.audience == "player" else trend_sentence(last, context.numbers)
    return said if then is None or verdict(last) == "past" else f"{said} {since_sentence(then, metric, context.numbers)}"


def _reading(words: Words, key: str) -> str | Markup:
    """How to read the chart; what one does with it stays off the paper."""
    if key != "figure.reading":
        return words(key)
    return Markup('{} <span class="drag">{}</span>').format(words(key), words("figure.drag"))


def trend_figure(
    player: PlayerMarts, context: PageContext, metric: str, group: str, *, said_above: bool = False, plain: bool = False
) -> Markup | None:
    """The figure of one trend; None when there is nothing to draw.

    ``said_above``: its finding already stands above it; ``plain``: it is read in one short sentence.
    """
    rows = trend_rows(player, metric, group)
    if rows.height < 2:
        return None
    marked = on_trend(metric, group, rows)
    flags, is_own = marked_flags(player, context, marked), context.audience == "player"
    caption = "figure.reading_own" if plain else "figure.reading" if said_above else ""
    key = ("trend figure", metric, group, is_own, caption, flags)
    return player.once(key, lambda: _trend_figure(player, context, rows, marked, flags, caption))


def _trend_figure(
    player: PlayerMarts, context: PageContext, rows: pl.DataFrame, marked: Marked, flags: tuple[Flag, ...], caption: str
) -> Markup:
    """The same, with these flags marked; ``caption``: a word key, or empty for its finding."""
    metric, group = rows["metric"][0], rows["club_group"][0]
    words, unit = context.words, context.numbers.unit(METRIC_QUANTITY[metric])
    name = capital(metric_name(metric, words))
    title = ", ".join(part for part in (name, club_name(group, words), unit) if part)
    columns = trend_columns(player, context, metric, group)
    first, last = columns["day"][0], columns["day"][-1]
    values = {"metric": name, "club": club_name(group, words), "first": words.day(first), "last": words.day(last)}
    alt = words("player.trend_alt", n=words.count("n.sessions", rows.height), **values)
    sets = _sets(player, context, rows, marked, flags)
    months = player.once(("trend months", metric, group), lambda: month_table(columns, context, metric))
    return context.figure(
        "trend",
        sets,
        title=title,
        caption=_reading(words, caption) if caption else findings(player, rows, context),
        alt=alt,
        table=months + marks_table(sets["spans"], sets["moments"], context, planned_spans(player, context)),
        spans=True,
    )
