"""How much has been done: load of the last days, for every reader."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from reports.chart_rows import chart_rows
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
from reports.pages.trend_marks import marks_table, on_load
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from reports.chart_rows import ChartRows
    from reports.pages.context import PageContext
    from reports.words import Words
    from warehouse.marts import PlayerMarts


def _load_sets(days: pl.DataFrame, short: str, words: Words) -> dict[str, ChartRows]:
    """Days and lines: what is drawn for every reader alike."""
    lines = pl.concat(
        days.select(day="on_date", value=pl.col(f"{line}_{short}").round(1), line=pl.lit(words(f"load.{line}"))).drop_nulls()
        for line in ("acute", "chronic")
    )
    rows = days.select(day="on_date", value=pl.col(_DAY_COLUMN[short]).cast(pl.Float64))
    return {"rows": chart_rows(rows), "lines": chart_rows(lines)}


_DAY_COLUMN = {"swings": "swings_all", "effort_min": "effort_min"}


def _load_figure(player: PlayerMarts, context: PageContext, short: str, known: _Known) -> Markup:
    """Daily load with the lines of the last week and the last month; ``short`` is swings or effort_min."""
    words, days = context.words, player.rows("mart_load_day")
    sets = player.once(("load drawn", short), lambda: _load_sets(player.rows("mart_load_day"), short, words))
    newest = days.row(-1, named=True)
    acute, chronic = newest[f"acute_{short}"], newest[f"chronic_{short}"]
    if acute is None or chronic is None:
        caption = words("load.lines_early")
    else:
        caption = words("load.lines", acute=words.number(acute, 0), chronic=words.number(chronic, 0))
    unknown = days[_DAY_COLUMN[short]].null_count()
    caption = f"{caption} {words('load.unknown_days', n=words.number(unknown, 0), all=words.number(days.height, 0))}"
    title = words(f"load.{short}_title")
    return context.figure(
        "load", {**sets, "spans": known.lasting, "moments": known.at_once}, title=title,
        caption=f"{caption} {words('load.above')}", alt=words("load.alt", what=title),
        table=known.listing,
    )  # fmt: skip


_TABLE = ("on_date", "swings_all", "swings_full_effort", "minutes", "effort_min", "is_rest", "is_assumed_off")


def _load_table(days: pl.DataFrame, context: PageContext) -> Markup:
    words = context.words
    heads = [Head(words("chart.day"), first=True)]
    heads += [Head(words(f"load.head_{name}"), number=True) for name in ("swings", "full_effort", "minutes", "effort_min")]
    rows = []
    for row in reversed(days.tail(28).select(_TABLE).to_dicts()):
        values = (row["swings_all"], row["swings_full_effort"], row["minutes"], row["effort_min"])
        rest = words("load.rest_assumed" if row["is_assumed_off"] else "load.rest")
        shown = [rest] + [""] * 3 if row["is_rest"] else [context.numbers.bare("count", value) for value in values]
        rows.append([words.short_day(row["on_date"]), *shown])
    return table(heads, rows, caption=words("load.table"))


@dataclass(frozen=True)
class _Known:
    """What both charts of load show beside it: what lasts, single moments, and the table behind."""

    lasting: ChartRows
    at_once: ChartRows
    listing: Markup


def _known(player: PlayerMarts, days: pl.DataFrame, context: PageContext) -> _Known:
    lasting, at_once = on_load(player, context, days, trend_rows(player, "club_speed_mps", "driver"))
    listing = player.once(("load days",), lambda: _load_table(player.rows("mart_load_day"), context))
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
    known = _known(player, days, context)
    blocks: list[str | Markup] = [paragraph(said), _load_figure(player, context, "swings", known)]
    if context.audience != "player":
        blocks.append(evidence(words("player.charts"), _load_figure(player, context, "effort_min", known)))
    if notes:
        blocks += [paragraph(words("youth.lead"), "quiet-note"), bullets(notes)]
    question = words("load.question_own" if context.audience == "player" else "load.question")
    yield Part(50, section(question, week_sentence(row, context.numbers), *blocks, anchor="load"), body_shown=True, label="load")
