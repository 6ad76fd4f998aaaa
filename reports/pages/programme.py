"""Programme: what was planned and done in each season phase, and what went along with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.load_body import assumed_note
from reports.findings.programme import called, change, done_share, phase_sentence
from reports.markup import joined
from reports.pages.frame import Page
from reports.pages.groups import leads_by_group
from reports.pages.parts import folded, in_words, link, paragraph, section
from reports.tables import Cell, Head, day_cell, table
from schemas.natural_order import natural

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from warehouse.marts import Marts

PATH = "programme.html"
MOST_SHOWN = 24
"""Times of a phase that are drawn and listed, the newest: so many that the picture fits on two thirds of a printed side."""

_SHOWN = {"speed_change": "speed", "scatter_change": "spread", "stroke_change": "strokes"}
_STROKES = ("stroke_change", "stroke_change_low", "stroke_change_high")

Row = dict[str, Any]


def _phases(marts: Marts, context: PageContext) -> pl.DataFrame:
    """All phases with the player's name; the season is part of a phase's name, so last winter and this one stay apart."""
    names = marts.rows("mart_player").select("player_id", "alias")
    phases = marts.rows("mart_phase").join(names, on="player_id", how="inner")
    strokes = context.at_home(marts.rows("mart_phase_stroke"), marts).select("player_id", "began_on", *_STROKES)
    return phases.join(strokes, on=["player_id", "began_on"], how="left").sort("began_on", "phase", natural("alias"), "player_id")


def _change(row: Row, quantity: str, context: PageContext) -> Cell:
    numbers, shown = context.numbers, _SHOWN[quantity]
    value, low, high = change(row, quantity)
    note = "" if value is None else numbers.interval(shown, low, high, signed=True)
    return Cell(numbers.bare(shown, value, signed=True), value, note)


def _table(rows: list[Row], home: str, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("squad.player"), first=True),
        Head(words("programme.from")),
        Head(words("programme.weeks"), number=True),
        Head(words("programme.planned"), number=True),
        Head(words("programme.done"), number=True),
        Head(words("programme.speed"), numbers.unit("speed"), number=True),
        Head(words("programme.scatter"), numbers.unit("spread"), number=True),
        Head(words("programme.strokes"), words("squad.against_then", course=home), number=True),
        Head(words("programme.called")),
    ]
    cells: list[list[str | Cell]] = [
        [
            Cell(link(context.href(PATH, context.player_path(row["player_id"])), row["alias"]), row["alias"]),
            day_cell(words.short_day(row["began_on"]), row["began_on"]),
            words.number(row["n_weeks"], 0),
            numbers.bare("count", row["planned_full"]),
            Cell(numbers.bare("count", row["done_full"]), row["done_full"], in_words(done_share(row, words))),
            _change(row, "speed_change", context),
            _change(row, "scatter_change", context),
            _change(row, "stroke_change", context),
            words(f"programme.speed_{called(row, 'speed_change')}"),
        ]
        for row in rows
    ]
    return table(heads, cells, caption=words("programme.caption"), sortable=True, kind="stack")


def _figure(phase: str, newest: list[Row], context: PageContext) -> Markup | None:
    words, numbers = context.words, context.numbers
    known = sorted((row for row in newest if row["speed_change_mps"] is not None), key=lambda row: -row["speed_change_mps"])
    if not known:
        return None
    drawn = [
        {
            "of": row["player_id"],
            "label": f"{row['alias']}, {words.short_month(row['began_on'])}",
            "value": numbers.shown("speed", row["speed_change_mps"]),
            "low": numbers.shown("speed", row["speed_change_low_mps"]),
            "high": numbers.shown("speed", row["speed_change_high_mps"]),
            "called": called(row, "speed_change"),
            "n": row["n_speed_sessions"],
        }
        for row in known
    ]
    return context.figure(
        "forest",
        {"rows": pl.DataFrame(drawn)},
        title=words("programme.figure", unit=numbers.unit("speed")),
        caption=words("programme.figure_caption"),
        alt=words.count("programme.figure_alt", len(drawn), phase=phase),
        table=None,
    )


def _section(phase: str, rows: list[Row], home: str, marts: Marts, context: PageContext) -> Markup:
    words, shown = context.words, rows[:MOST_SHOWN]
    figure, listing = _figure(phase, shown, context), _table(shown, home, context)
    blocks = [listing] if len(rows) <= 12 else [folded(words, words.count("programme.all", len(shown)), listing)]
    rest = [paragraph(words.count("programme.rest", len(rows) - len(shown)), "quiet-note")] if len(rows) > len(shown) else []
    by_group = leads_by_group(marts, lambda ids: _said(phase, [row for row in rows if row["player_id"] in ids], context))
    return section(phase, _said(phase, rows, context), *([figure] if figure else []), *blocks, *rest, by_group=by_group)


def _said(phase: str, rows: list[Row], context: PageContext) -> str:
    if not rows:
        return context.words("programme.nobody_of_group", phase=phase)
    return phase_sentence(phase, list(rows), context.numbers)


def _lead(phases: pl.DataFrame, context: PageContext) -> str:
    n = phases["phase"].n_unique()
    return context.words.count("programme.lead", n) if n else context.words("programme.lead_none")


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The programme page of the coach."""
    if marts.audience != "coach":
        return
    words, phases = context.words, _phases(marts, context)
    groups = phases.partition_by("phase", maintain_order=True)
    groups.sort(key=lambda group: (group["began_on"].max(), group["phase"][0]), reverse=True)
    parts = [
        _section(
            group["phase"][0],
            group.sort("began_on", natural("alias"), descending=[True, False]).to_dicts(),
            context.home_phrase(marts),
            marts,
            context,
        )
        for group in groups
    ]
    caution = f"{words('programme.caution')} {assumed_note(context.academy, words)}".rstrip()
    body = joined([paragraph(caution), *parts] if parts else [])
    leads = leads_by_group(marts, lambda ids: _lead(phases.filter(pl.col("player_id").is_in(sorted(ids))), context))
    yield Page(
        PATH, words("programme.title"), body, lead=_lead(phases, context), group_leads=leads, nav="programme.title", order=60
    )
