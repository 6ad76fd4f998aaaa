"""Levels: what is usual of driver speed, growth and scatter, by sex, age and standard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.federation import QUANTITY, usual_sentence, whom
from reports.markup import joined
from reports.numbers import DASH
from reports.pages.frame import Page
from reports.pages.parts import evidence, paragraph, section
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from markupsafe import Markup

    from reports.federation.facts import FederationFacts
    from reports.pages.context import PageContext

PATH = "index.html"
BY: dict[str, tuple[str, ...]] = {
    "sex": ("sex",),
    "age": ("age_band",),
    "standard": ("standard",),
    "sex_age": ("sex", "age_band"),
    "sex_standard": ("sex", "standard"),
    "all": ("sex", "age_band", "standard"),
}
FOLDED = ("sex_standard", "all")
_CELL = ("sex", "age_band", "standard")
PERCENTILES = (10, 25, 50, 75, 90)


def grouped(rows: pl.DataFrame, names: tuple[str, ...]) -> pl.DataFrame:
    """The rows that tell these of sex, age and standard and no other, in the order of the words."""
    told = [pl.col(name).is_not_null() if name in names else pl.col(name).is_null() for name in _CELL]
    bands = pl.Enum(["to_13", "14_15", "16_17", "18_24", "25_39", "40_54", "55_up"])
    standards = pl.Enum(["tour", "scratch", "80", "90", "100"])
    order = [pl.col("sex"), pl.col("age_band").cast(bands), pl.col("standard").cast(standards)]
    return rows.filter(*told).sort(order, maintain_order=True)


def _estimate(row: dict[str, Any] | None, quantity: str, n_persons: int, context: PageContext) -> Cell:
    numbers, name, signed = context.numbers, QUANTITY[quantity], quantity == "growth"
    if row is None:
        return Cell(DASH, None, context.words(f"federation.no_{quantity}"))
    interval = numbers.interval(name, row["low"], row["high"], signed=signed)
    n = context.words("numbers.n", n=context.words.number(row["n_persons"], 0))
    note = interval if row["n_persons"] == n_persons else f"{interval}; {n}"
    return Cell(numbers.bare(name, row["mean"], signed=signed), row["mean"], note)


def _table(rows: pl.DataFrame, caption: str, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("federation.of"), first=True),
        *(
            Head(
                words(f"federation.{quantity}"), numbers.unit(name) if quantity != "growth" else words("federation.a_year"), True
            )
            for quantity, name in QUANTITY.items()
        ),
        Head(words("federation.persons"), number=True),
        Head(words("federation.academies"), number=True),
    ]
    cells: list[list[str | Cell]] = []
    for part in rows.partition_by(list(_CELL), maintain_order=True):
        by = {row["quantity"]: row for row in part.to_dicts()}
        first = part.row(0, named=True)
        speed = by.get("speed", first)
        cells.append(
            [
                whom(first, words),
                *(_estimate(by.get(quantity), quantity, speed["n_persons"], context) for quantity in QUANTITY),
                words.number(speed["n_persons"], 0),
                words.number(speed["n_academies"], 0),
            ]
        )
    return table(heads, cells, caption=caption, kind="stack dense")


def _figure(rows: pl.DataFrame, title: str, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    drawn = [
        {
            "label": whom(row, words),
            **{name: numbers.shown("speed", row[of]) for name, of in (("value", "mean"), ("low", "low"), ("high", "high"))},
            "n": row["n_persons"],
            "kind": "one",
        }
        for row in rows.iter_rows(named=True)
    ]
    return context.figure(
        "group_levels",
        {"rows": pl.DataFrame(drawn)},
        title=words("federation.figure", unit=numbers.unit("speed")),
        caption=_range(rows.sort("mean"), context),
        alt=words("federation.figure_alt", by=title[:1].lower() + title[1:], n=len(drawn)),
    )


def _range(rows: pl.DataFrame, context: PageContext) -> str:
    """From the slowest to the fastest of the groups, rows sorted by their mean."""
    words, numbers = context.words, context.numbers
    first, last = rows.row(0, named=True), rows.row(-1, named=True)
    low, high = (numbers.with_unit("speed", row["mean"]) for row in (first, last))
    return words("federation.figure_caption", low=low, slow=whom(first, words), high=high, fast=whom(last, words))


def _breakdown(name: str, facts: FederationFacts, context: PageContext) -> Markup | None:
    words, rows = context.words, grouped(facts.usual, BY[name])
    if rows.is_empty():
        return None
    title, speeds = words(f"federation.by.{name}"), rows.filter(pl.col("quantity") == "speed")
    listing = _table(rows, title, context)
    if name in FOLDED:
        return section(title, words.count("federation.folded", speeds.height), evidence(words("federation.show"), listing))
    return section(title, "", *([_figure(speeds, title, context)] if speeds.height > 1 else []), listing)


def norms_table(norms: pl.DataFrame, context: PageContext) -> Markup:
    """Percentiles by sex, age and standard."""
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("federation.of"), first=True),
        *(Head(words("federation.norms.below", n=share), numbers.unit("speed"), number=True) for share in PERCENTILES),
        Head(words("federation.persons"), number=True),
        Head(words("federation.academies"), number=True),
    ]
    rows = [
        [
            whom(row, words),
            *(numbers.bare("speed", row[f"speed_p{share}_mps"]) for share in PERCENTILES),
            words.number(row["n_persons"], 0),
            words.number(row["n_academies"], 0),
        ]
        for names in ((), *BY.values())
        for row in grouped(norms, names).iter_rows(named=True)
    ]
    return table(heads, rows, caption=words("federation.norms.title"), kind="stack dense")


def _norms(facts: FederationFacts, context: PageContext) -> Markup:
    words = context.words
    if facts.norms.is_empty():
        return section(words("federation.norms.title"), words("federation.norms.none"))
    return section(
        words("federation.norms.title"),
        words("federation.norms.said"),
        evidence(words("federation.show"), norms_table(facts.norms, context)),
        paragraph(words("federation.norms.limits"), "quiet-note"),
        anchor="norms",
    )


def levels_page(facts: FederationFacts, context: PageContext) -> Page:
    """The first page of the federation."""
    words = context.words
    whole = {row["quantity"]: row for row in grouped(facts.usual, ()).to_dicts()}
    said = [usual_sentence(whole[one], facts.month_on or context.as_of, context.numbers) for one in QUANTITY if one in whole]
    missing = [words(f"federation.no_{quantity}") for quantity in QUANTITY if quantity not in whole]
    parts = [made for name in BY if (made := _breakdown(name, facts, context)) is not None]
    body = joined(
        [
            *(paragraph(text) for text in said[1:]),
            *([paragraph(f"{' '.join(missing)}", "quiet-note")] if missing and said else []),
            *([paragraph(words("federation.read_so"), "quiet-note")] if said else []),
            *parts,
            *([_norms(facts, context)] if said else []),
            paragraph(words("federation.held_back"), "quiet-note"),
        ]
    )
    lead = said[0] if said else words("federation.nothing")
    return Page(PATH, words("federation.title"), body, lead=lead, nav="federation.title", order=10)
