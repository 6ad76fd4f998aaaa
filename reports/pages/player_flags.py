"""The player's sections on flags: what is open, and what was."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from reports.findings.flags import flag_evidence, flag_kind, flag_sentence
from reports.findings.order import reading_order
from reports.markup import joined
from reports.pages.finding_lines import mark, record_line, state_line, what_to_do
from reports.pages.frame import Part
from reports.pages.parts import evidence, paragraph, section
from reports.story import FLAGS
from reports.tables import Head, Row, day_cell, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

Flag = dict[str, Any]
OWN_KINDS = frozenset(
    {
        "speed_rise",
        "speed_fall",
        "speed_stall",
        "speed_cost",
        "scatter_fall",
        "scatter_rise",
        "strokes_better",
        "strokes_worse",
        "wild_rise",
        "load_jump",
        "load_flat",
        "plan_gap",
    }
)
"""Kinds that a player reads about on the own page; what tells of the body is talked over with the physio."""


def _visible(player: PlayerMarts, context: PageContext) -> list[Flag]:
    flags = player.listed(FLAGS[context.audience])
    return [row for row in flags if row["kind"] in OWN_KINDS] if context.audience == "player" else flags


def _open_item(row: dict[str, Any], context: PageContext) -> Markup:
    words, units = context.words, context.academy.units
    evidence = paragraph(flag_evidence(row, words, units), "evidence")
    lines = joined([what_to_do(row, context), evidence, state_line(row, context)]) if context.audience != "player" else evidence
    return Markup('<li id="flag-{}"><div>{}</div><div><p class="said">{}</p>{}</div></li>').format(
        row["flag_id"], mark(row, context), flag_sentence(row, words, units), lines
    )


def _open(flags: list[Flag], context: PageContext) -> Markup:
    words = context.words
    rows = reading_order([row for row in flags if row["closed_on"] is None], body_first=context.audience == "physio")
    question = words("player.flags_own" if context.audience == "player" else "player.flags")
    if not rows:
        return section(question, _nothing(context), anchor="look")
    items = joined(_open_item(row, context) for row in rows)
    return section(question, "", Markup('<ol class="bulletin">{}</ol>').format(items), record_line(context), anchor="look")


def _nothing(context: PageContext) -> str:
    words = context.words
    if context.audience == "player":
        return words("player.no_flags_own")
    return words("player.no_flags", whose=words(f"flag_for.{context.audience}"))


def _past(flags: list[Flag], context: PageContext) -> Markup:
    words = context.words
    rows = [row for row in flags if row["closed_on"] is not None]
    rows.sort(key=lambda row: (-row["raised_on"].toordinal(), row["flag_id"]))
    if not rows:
        return Markup("")
    heads = [
        Head(words("player.flag"), first=True),
        Head(words("player.raised")),
        Head(words("player.closed")),
        Head(words("player.why_closed")),
        Head(words("player.said")),
    ]
    cells = [
        Row(
            [
                flag_kind(row, words),
                day_cell(words.short_day(row["raised_on"]), row["raised_on"]),
                day_cell(words.short_day(row["closed_on"]), row["closed_on"]),
                words.either(f"closing.{row['closed_because']}", row["closed_because"]),
                flag_sentence(row, words, context.academy.units),
            ],
            anchor=f"flag-{row['flag_id']}",
        )
        for row in rows
    ]
    listing = table(heads, cells, caption=words("player.past_caption"), sortable=True, kind="stack wide")
    return section(
        words("player.past"),
        words.count("player.past_count", len(rows)),
        evidence(words("player.listed"), listing),
        anchor="history",
    )


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Sections 10 and 70."""
    flags = _visible(player, context)
    yield Part(10, _open(flags, context), label="look")
    if context.audience != "player":
        yield Part(70, _past(flags, context), label="history")
