"""How much has been done: load of the last days, for every reader."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.chart_rows import ChartRows
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
from reports.pages.trend_marks import load_flags, marks_table, on_load, planned_spans
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from reports.pages.trend_marks import Flag
    from reports.words import Words
    from warehouse.marts import PlayerMarts


_LINES = ("acute", "chronic")
_DAYS: dict[str, Any] = {"day": pl.Date, "value": pl.Float64}
_DAY_COLUMN = {"swings": "swings_all", "effort_min": "effort_min"}
_TABLE = ("on_date", "swings_all", "swings_full_effort", "minutes", "effort_min", "is_rest", "is_assumed_off")
_COMPARED_DAYS = 7 + 28
"""The last week, and the four weeks with which it is compared."""
_DRAWN_LINES = [f"{line}_{short}" for short in _DAY_COLUMN for line in _LINES]
_SAID = (
    *("days_known_7", "days_known_28", "days_since_easy", "days_assumed_28", "month_percentile"),
    *("week_swings", "usual_week_swings", "week_effort_min", "usual_week_effort_min"),
)


def _drawn_days(days: pl.DataFrame) -> pl.DataFrame:
    """What the table tells of days; lines as they are drawn."""
    return days.select(*_TABLE, pl.col(_DRAWN_LINES).round(1))


def _said_days(days: pl.DataFrame) -> pl.DataFrame:
    """What sentences tell of a day."""
    return days.select(*_SAID, *_DRAWN_LINES)


def _newest_day(player: PlayerMarts) -> dict[str, Any]:
    return {name: values[-1] for name, values in player.columns("mart_load_day", _said_days).items()}


def _load_sets(columns: dict[str, list[Any]], short: str, words: Words) -> dict[str, ChartRows]:
    """Days and lines: what is drawn for every reader alike."""
    days = columns["on_date"]
    lines: dict[str, list[Any]] = {"day": [], "value": [], "line": []}
    for line in _LINES:
        drawn = columns[f"{line}_{short}"]
        told = [place for place, value in enumerate(drawn) if value is not None]
        lines["day"] += [days[place] for place in told]
        lines["value"] += [drawn[place] for place in told]
        lines["line"] += [words(f"load.{line}")] * len(told)
    done = [None if value is None else float(value) for value in columns[_DAY_COLUMN[short]]]
    return {"rows": ChartRows({"day": days, "value": done}, _DAYS), "lines": ChartRows(lines, _DAYS | {"line": pl.String})}


def _load_figure(player: PlayerMarts, context: PageContext, short: str, known: _Known) -> Markup:
    """Daily load with the lines of the last week and the last month; ``short`` is swings or effort_min."""
    words, newest = context.words, known.newest
    columns = player.columns("mart_load_day", _drawn_days)
    sets = player.once(("load drawn", short), lambda: _load_sets(columns, short, words))
    acute, chronic = newest[f"acute_{short}"], newest[f"chronic_{short}"]
    if acute is None or chronic is None:
        caption = words("load.lines_early")
    else:
        caption = words("load.lines", acute=words.number(acute, 0), chronic=words.number(chronic, 0))
    done = columns[_DAY_COLUMN[short]]
    caption = f"{caption} {words('load.unknown_days', n=words.number(done.count(None), 0), all=words.number(len(done), 0))}"
    title = words(f"load.{short}_title")
    return context.figure(
        "load", {**sets, "spans": known.lasting, "moments": known.at_once}, title=title,
        caption=f"{caption} {words('load.above')}", alt=words("load.alt", what=title),
        table=known.listing,
    )  # fmt: skip


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
    return table(heads, rows, caption=words("load.table"), kind="stack")


@dataclass(frozen=True)
class _Known:
    """What both charts of load show: the newest day, and beside the lines what lasts, single moments, and the table behind."""

    newest: dict[str, Any]
    lasting: ChartRows
    at_once: ChartRows
    listing: Markup


def _known(player: PlayerMarts, context: PageContext, ends: tuple[date, date], flags: tuple[Flag, ...]) -> _Known:
    lasting, at_once = on_load(player, context, ends, flags)
    days = player.columns("mart_load_day", _drawn_days)
    listing = player.once(("load days",), lambda: _load_table(days, context))
    return _Known(
        _newest_day(player), lasting, at_once, listing + marks_table(lasting, at_once, context, planned_spans(player, context))
    )


def _said(player: PlayerMarts, context: PageContext) -> tuple[str, str]:
    """The section's answer, and what is said below it to every reader alike."""
    row, words = _newest_day(player), context.words
    efforts = player.columns("mart_load_day", _drawn_days)["effort_min"][-_COMPARED_DAYS:]
    told = (
        effort_sentence(row | {"effort_unknown": efforts.count(None)}, context.numbers),
        rest_sentence(row, words),
        month_sentence(row, words),
        assumed_sentence(row, words),
    )
    return week_sentence(row, context.numbers), " ".join(text for text in told if text)


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 50; a module of its own, for the days move every night and what was answered does not."""
    access, words = context.academy.access, context.words
    days = player.columns("mart_load_day", _drawn_days)["on_date"]
    if not days or (context.audience == "coach" and not access.coach_sees_load):
        return
    answer, told = player.once(("load said",), lambda: _said(player, context))
    said = " ".join(text for text in (told, *load_lasts(player, context)) if text)
    youth = player.listed("mart_coach_youth_note" if context.audience == "coach" else "mart_physio_youth_note")
    notes = [youth_sentence(note, words) for note in youth]
    ends = (days[0], days[-1])
    flags = load_flags(player, context, ends)
    known = player.once(("load marks", flags), lambda: _known(player, context, ends, flags))

    def figure(short: str) -> Markup:
        return player.once(("load figure", short, flags), lambda: _load_figure(player, context, short, known))

    blocks: list[str | Markup] = [paragraph(said), figure("swings")]
    if context.audience != "player":
        blocks.append(evidence(words("player.charts"), figure("effort_min")))
    if notes:
        blocks += [paragraph(words("youth.lead"), "quiet-note"), bullets(notes)]
    question = words("load.question_own" if context.audience == "player" else "load.question")
    yield Part(50, section(question, answer, *blocks, anchor="load"), body_shown=True, label="load")
