"""Speed blocks: what they brought, academy by academy and across."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from reports.findings.federation import differ_sentences, together_sentence
from reports.markup import joined
from reports.pages.frame import Page
from reports.pages.parts import paragraph, section
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from markupsafe import Markup

    from reports.federation.facts import FederationFacts
    from reports.pages.context import PageContext

PATH = "speed-blocks.html"


def _drawn(facts: FederationFacts, context: PageContext) -> list[dict[str, object]]:
    words, pooled = context.words, facts.together
    rows: list[dict[str, object]] = [
        {
            "label": row["academy"],
            "value": row["effect_pct"],
            "low": row["low"],
            "high": row["high"],
            "n": row["n_persons"],
            "kind": "one",
        }
        for row in facts.blocks.iter_rows(named=True)
    ]
    if pooled is None:
        return rows
    n = int(facts.blocks["n_persons"].sum())
    rows.append(
        {
            "label": words("federation.blocks.together"),
            "value": pooled.mean,
            "low": pooled.low,
            "high": pooled.high,
            "n": n,
            "kind": "all",
        }
    )
    if pooled.next_low is not None:
        label = words("federation.blocks.further")
        rows.append(
            {"label": label, "value": pooled.mean, "low": pooled.next_low, "high": pooled.next_high, "n": n, "kind": "next"}
        )
    return rows


def _figure(facts: FederationFacts, context: PageContext) -> Markup:
    words, shown = context.words, ("value", "low", "high")
    rows = [
        row | {name: context.numbers.shown("percent", float(str(row[name]))) for name in shown} for row in _drawn(facts, context)
    ]
    ends = (facts.blocks["effect_pct"].min(), facts.blocks["effect_pct"].max())
    low, high = (context.numbers.with_unit("percent", float(str(end)), signed=True) for end in ends)
    return context.figure(
        "academy_effects",
        {"rows": pl.DataFrame(rows)},
        title=words("federation.blocks.figure"),
        caption=words(f"federation.blocks.figure_caption{'_one' if facts.blocks.height == 1 else ''}", low=low, high=high),
        alt=words("federation.blocks.figure_alt", n=facts.blocks.height),
    )


def _table(facts: FederationFacts, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("federation.academy"), first=True),
        Head(words("federation.blocks.effect"), "%", number=True),
        Head(words("federation.persons"), number=True),
        Head(words("federation.blocks.n_blocks"), number=True),
        Head(words("federation.blocks.months")),
    ]
    rows = [
        [
            row["academy"],
            Cell(
                numbers.bare("percent", row["effect_pct"], signed=True),
                row["effect_pct"],
                numbers.interval("percent", row["low"], row["high"], signed=True),
            ),
            words.number(row["n_persons"], 0),
            words.number(row["n_blocks"], 0),
            _span(row["first_on"], row["last_on"], context),
        ]
        for row in facts.blocks.iter_rows(named=True)
    ]
    return table(heads, rows, caption=words("federation.blocks.caption"), sortable=True, kind="stack dense")


def _span(first: object, last: object, context: PageContext) -> Cell:
    months = [context.words.short_month(day) for day in (first, last)]  # type: ignore[arg-type] # days of a frame
    return Cell(months[0] if first == last else f"{months[0]} \N{EN DASH} {months[1]}", str(first))


def blocks_page(facts: FederationFacts, context: PageContext) -> Page:
    """The page of speed blocks."""
    words, pooled = context.words, facts.together
    nav = {"nav": "federation.blocks.title", "order": 20}
    if facts.blocks.is_empty():
        body = paragraph(words("federation.blocks.caution"), "quiet-note")
        return Page(PATH, words("federation.blocks.title"), body, lead=words("federation.blocks.none"), **nav)  # type: ignore[arg-type]
    lead = words("federation.blocks.single") if pooled is None else together_sentence(pooled, context.numbers)
    said = [] if pooled is None else [paragraph(text) for text in differ_sentences(pooled, context.numbers)]
    body = joined(
        [
            paragraph(words("federation.blocks.caution")),
            section(words("federation.blocks.by_academy"), "", _figure(facts, context), _table(facts, context)),
            *([section(words("federation.blocks.alike"), "", *said)] if said else []),
        ]
    )
    return Page(PATH, words("federation.blocks.title"), body, lead=lead, **nav)  # type: ignore[arg-type]
