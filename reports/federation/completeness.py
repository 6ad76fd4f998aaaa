"""Data: which academy shared what, how complete its data are, and which files were left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.markup import joined
from reports.numbers import DASH
from reports.pages.frame import Page
from reports.pages.parts import bullets, paragraph, section
from reports.tables import Cell, Head, table
from schemas.natural_order import natural

if TYPE_CHECKING:
    from markupsafe import Markup

    from reports.federation.facts import FederationFacts
    from reports.pages.context import PageContext

PATH = "data.html"
SHARES = ("quarantined_pct", "device_named_pct", "ball_speed_pct", "side_pct")


def _table(facts: FederationFacts, context: PageContext) -> Markup:
    words = context.words
    heads = [
        Head(words("federation.academy"), first=True),
        Head(words("federation.data.newest")),
        Head(words("federation.data.n_months"), number=True),
        Head(words("federation.persons"), number=True),
        Head(words("federation.data.n_files"), number=True),
        *(Head(words(f"federation.data.{name}"), "%", number=True) for name in SHARES),
    ]
    rows = []
    for row in facts.quality.sort(natural("academy")).iter_rows(named=True):
        persons = DASH if row["n_persons"] is None else words.number(row["n_persons"], 0)
        files = DASH if row["n_files"] is None else words.number(row["n_files"], 0)
        shares: list[str | Cell] = [Cell(DASH if row[name] is None else words.number(row[name], 0), row[name]) for name in SHARES]
        newest = Cell(words.short_month(row["month_on"]), row["month_on"].isoformat())
        rows.append([row["academy"], newest, words.number(row["n_months"], 0), persons, files, *shares])
    return table(heads, rows, caption=words("federation.data.caption"), sortable=True, kind="stack dense")


def completeness_page(facts: FederationFacts, context: PageContext) -> Page:
    """The page about the data."""
    words = context.words
    refused = [f"{path}: {why}" for path, why in facts.refused]
    said = words.count("federation.data.refused", len(refused)) if refused else words("federation.data.none_refused")
    silent = (
        words("federation.data.silent", names=words.listing(list(facts.silent))) if facts.silent else words("federation.data.all")
    )
    has_rows = facts.quality.height > 0
    complete = (
        section(words("federation.data.complete"), "", _table(facts, context))
        if has_rows
        else paragraph(words("federation.nothing"))
    )
    body = joined(
        [
            complete,
            paragraph(words("federation.data.no_counts"), "quiet-note"),
            section(words("federation.data.who"), silent),
            section(words("federation.data.left_out"), said, bullets(refused)),
        ]
    )
    lead = words.count("federation.data.lead", facts.quality.height)
    return Page(PATH, words("federation.data.title"), body, lead=lead, nav="federation.data.title", order=30)
