"""How much has been done: load of the last days, for every reader."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.chart_rows import ChartRows, tuple_rows
from reports.findings.load_body import (
    assumed_sentence,
    effort_sentence,
    month_sentence,
    rest_sentence,
    week_sentence,
    youth_sentence,
)
from reports.pages.frame import Part
from reports.pages.lasting import load_lasts
from reports.pages.parts import bullets, evidence, paragraph, section
from reports.pages.trend_figure import trend_rows
from reports.pages.trend_marks import load_flags, marks_table, on_load
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from reports.pages.trend_marks import Flag
    from reports.words import Words
    from warehouse.marts import PlayerMarts


_LINES = ("acute", "chronic")
_DAYS: dict[str, Any] = {"day": pl.Date, "value": pl.Float64}


def _day_columns(player: PlayerMarts) -> dict[str, list[Any]]:
    """The days as lists by column; lines as they are drawn."""
    return player.once(("load columns",), lambda: _columns(player.rows("mart_load_day")))


def _columns(days: pl.DataFrame) -> dict[str, list[Any]]:
    lines = [f"{line}_{short}" for short in _DAY_COLUMN for line in _LINES]
    return days.select(*_TABLE, pl.col(lines).round(1)).to_dict(as_series=False)


def _load_sets(columns: dict[str, list[Any]], short: str, words: Words) -> dict[str, ChartRows]:
    """Days and lines: what is drawn for every reader alike."""
    days = columns["on_date"]
    lines = [
        (day, value, said)
        for line, said in ((line, words(f"load.{line}")) for line in _LINES)
        for day, value in zip(days, columns[f"{line}_{short}"], strict=True)
        if value is not None
    ]
    done = [None if value is None else float(value) for value in columns[_DAY_COLUMN[short]]]
    return {"rows": ChartRows({"day": days, "value": done}, _DAYS), "lines": tuple_rows(lines, _DAYS | {"line": pl.String})}


_DAY_COLUMN = {"swings": "swings_all", "effort_min": "effort_min"}


def _load_figure(player: PlayerMarts, context: PageContext, short: str, known: _Known) -> Markup:
    """Daily load with the lines of the last week and the last month; ``short`` is swings or effort_min."""
    words, days = context.words, player.rows("mart_load_day")
    columns = _day_columns(player)
    sets = player.once(("load drawn", short), lambda: _load_sets(columns, short, words))
    newest = days.row(-1, named=True)
    acute, chronic = newest[f"acute_{short}"], newest[f"chronic_{short}"]
    if acute is None or chronic is None:
        caption = words("load.lines_early")
    else:
        caption = words("load.lines", acute=words.number(acute, 0), chronic=words.number(chronic, 0))
    unknown = columns[_DAY_COLUMN[short]].count(None)
    caption = f"{caption} {words('load.unknown_days', n=words.number(unknown, 0), all=words.number(days.height, 0))}"
    title = words(f"load.{short}_title")
    return context.figure(
        "load", {**sets, "spans": known.lasting, "moments": known.at_once}, title=title,
        caption=f"{caption} {words('load.above')}", alt=words("load.alt", what=title),
        table=known.listing,
    )  # fmt: skip


_TABLE = ("on_date", "swings_all", "swings_full_effort", "minutes", "effort_min", "is_rest", "is_assumed_off")


def _load_table(columns: dict[str, list[Any]], context: PageContext) -> Markup:
    words = context.words
    heads = [Head(words("chart.day"), first=True)]
    heads += [Head(words(f"load.head_{name}"), number=True) for name in ("swings", "full_effort", "minutes", "effort_min")]
    rows = []
    for values in zip(*(reversed(columns[name][-28:]) for name in _TABLE), strict=True):
        row = dict(zip(_TABLE, values, strict=True))
        done = (row["swings_all"], row["swings_full_effort"], row["minutes"], row["effort_min"])
        rest = words("load.rest_assumed" if row["is_assumed_off"] else "load.rest")
        shown = [rest] + [""] * 3 if row["is_rest"] else [context.numbers.bare("count", value) for value in done]
        rows.append([words.short_day(row["on_date"]), *shown])
    return table(heads, rows, caption=words("load.table"))


@dataclass(frozen=True)
class _Known:
    """What both charts of load show beside it: what lasts, single moments, and the table behind."""

    lasting: ChartRows
    at_once: ChartRows
    listing: Markup


def _known(player: PlayerMarts, days: pl.DataFrame, context: PageContext, flags: tuple[Flag, ...]) -> _Known:
    lasting, at_once = on_load(player, context, days, trend_rows(player, "club_speed_mps", "driver"), flags)
    listing = player.once(("load days",), lambda: _load_table(_day_columns(player), context))
    return _Known(lasting, at_once, listing + marks_table(lasting, at_once, context))


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 50; a module of its own, for the days move every night and what was answered does not."""
    access = context.academy.access
    days = player.rows("mart_load_day")
    if days.is_empty() or (context.audience == "coach" and not access.coach_sees_load):
        return
    words, row = context.words, days.row(-1, named=True)
    told = (
        effort_sentence(row, context.numbers),
        rest_sentence(row, words),
        month_sentence(row, words),
        assumed_sentence(row, words),
    )
    said = " ".join(text for text in (*told, *load_lasts(player, context)) if text)
    youth = player.listed("mart_coach_youth_note" if context.audience == "coach" else "mart_physio_youth_note")
    notes = [youth_sentence(note, words) for note in youth]
    flags = load_flags(player, context, days)
    known = player.once(("load marks", flags), lambda: _known(player, days, context, flags))

    def figure(short: str) -> Markup:
        return player.once(("load figure", short, flags), lambda: _load_figure(player, context, short, known))

    blocks: list[str | Markup] = [paragraph(said), figure("swings")]
    if context.audience != "player":
        blocks.append(evidence(words("player.charts"), figure("effort_min")))
    if notes:
        blocks += [paragraph(words("youth.lead"), "quiet-note"), bullets(notes)]
    question = words("load.question_own" if context.audience == "player" else "load.question")
    yield Part(50, section(question, week_sentence(row, context.numbers), *blocks, anchor="load"), body_shown=True, label="load")
