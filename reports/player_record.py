"""The page that goes with a person's export: what is kept, where it came from, who sees it, and all of it to read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import polars as pl

from reports.markup import joined
from reports.pages.context import page_context
from reports.pages.frame import Page, single
from reports.pages.parts import bullets, link, paragraph, section
from reports.tables import Head, table
from schemas.person_record import MENTION

if TYPE_CHECKING:
    from datetime import datetime

    from markupsafe import Markup

    from reports.words import Words
    from schemas.academy import Academy
    from schemas.tables import Table

MOST_ROWS = 200
"""Rows of a table on the page; the file beside it has them all, and the page says so."""
MOST_VALUES = 12
"""Values of a list in a cell, likewise: what a trend goes on from has hundreds, of which nobody reads one."""


def record_page(
    academy: Academy, called: str, tables: list[tuple[Table, pl.DataFrame]], now: datetime, *, with_own_page: bool
) -> str:
    """The page as one file.

    Parameters
    ----------
    academy : Academy
    called : str
        The person's alias.
    tables : list of (Table, polars.DataFrame)
        What is exported.
    now : datetime
        UTC; printed in the academy's time.
    with_own_page : bool
        Whether the person's own page lies beside it.
    """
    here = now.astimezone(ZoneInfo(academy.time_zone))
    one_context = replace(page_context(academy, "player", here.date()), with_scripts=False)
    words = one_context.words
    n_rows = words.number(sum(rows.height for _, rows in tables), 0)
    body = [
        section(words("record.what"), words("record.files"), _overview(tables, words), *_own_page(words, shown=with_own_page)),
        section(words("record.who"), "", bullets(_readers(academy, words))),
        *(_table(one, rows, words) for one, rows in tables),
    ]
    page = Page(
        "index.html",
        words("record.title", who=called),
        joined(body),
        lead=words("record.lead", n_rows=n_rows, n_tables=words.number(len(tables), 0), when=words.instant(here)),
        body_shown=True,
    )
    return single(page, one_context)


def _own_page(words: Words, *, shown: bool) -> list[Markup]:
    return [paragraph(link("own-page.html", words("record.own_page")))] if shown else []


def _overview(tables: list[tuple[Table, pl.DataFrame]], words: Words) -> Markup:
    heads = [Head(words("record.table"), first=True), Head(words("record.rows"), number=True), Head(words("record.file"))]
    rows = [(one.title, words.number(found.height, 0), f"{one.name}.csv") for one, found in tables]
    return table(heads, rows, caption=words("record.what"))


def _readers(academy: Academy, words: Words) -> list[str]:
    sees = {"load": academy.access.coach_sees_load, "availability": academy.access.coach_sees_availability}
    coach = [words(f"record.coach.{what}") for what, is_seen in sees.items() if is_seen]
    years = [words.count("record.keep", n, kind=kind) for kind, n in sorted(academy.keep_years.items())]
    return [words("record.coach.ball"), *coach, *words.lines("record.readers"), *years, words("record.keep_others")]


def _table(one: Table, rows: pl.DataFrame, words: Words) -> Markup:
    """A table of the export; columns that hold nothing are left out."""
    units = {column.name: column.unit for column in one.columns}
    filled = [name for name in rows.columns if rows[name].null_count() < rows.height]
    shown = rows.head(MOST_ROWS).select(filled)
    heads = [
        Head(name.replace("_", " "), units.get(name, ""), number=rows.schema[name].is_numeric(), first=at == 0)
        for at, name in enumerate(filled)
    ]
    cells = [[_shown(value, f"{one.name}.csv", words) for value in row] for row in shown.rows()]
    left = rows.height - shown.height
    says = words("record.first", n=MOST_ROWS, of=words.number(rows.height, 0), file=f"{one.name}.csv") if left else ""
    note = words("record.mention") if one.name == MENTION.name else says
    return section(one.title, note, table(heads, cells, caption=one.title))


def _shown(value: object, file: str, words: Words) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return words("record.yes" if value else "record.no")
    if isinstance(value, list):
        some = " | ".join(_shown(each, file, words) for each in value[:MOST_VALUES])
        return words("record.values", some=some, n=words.number(len(value), 0), file=file) if len(value) > MOST_VALUES else some
    return f"{value:.6g}" if isinstance(value, float) else str(value)
