"""The names of months below charts over time: apart from each other, and never without a year."""

from __future__ import annotations

import datetime as dt
import re
from itertools import pairwise

import polars as pl
import pytest

from reports.charts import ChartBook, Style
from reports.numbers import Numbers
from reports.words import words
from schemas.academy import Units

WIDEST_PX = 32
"""Of a month's short name, and of a year, in the type of the charts."""

SPANS = {"a quarter": 90, "a year": 365, "31 months": 945, "five years": 1826}


def named(days: int, width: int, language: str) -> list[tuple[float, tuple[str, ...]]]:
    """Where each name stands [px], and its lines."""
    began = dt.date(2024, 3, 4)
    on = pl.date_range(began, began + dt.timedelta(days=days), eager=True)
    rows = pl.DataFrame({"day": on}).with_columns(value=pl.lit(20.0), words=pl.lit(""), kind=pl.lit("play"), line=pl.lit("day"))
    book = ChartBook(Style(words(language), Numbers(words(language), Units())))
    nothing = {"day": [], "end": [], "lane": [], "kind": [], "words": []}
    empty = pl.DataFrame(
        nothing, schema={"day": pl.Date, "end": pl.Date, "lane": pl.Int64, "kind": pl.String, "words": pl.String}
    )
    svg = book.svg("load", {"rows": rows, "lines": rows, "spans": empty, "moments": empty}, width)
    axis = next(part for part in svg.split('class="mark-group role-axis"') if "X-axis" in part[:200])
    texts = re.findall(r'<text[^>]*transform="translate\(([-\d.]+)[^>]*[^/]>(.*?)</text>', axis)
    lines = [(float(at), tuple(line for line in re.split(r"<[^>]*>", text) if line)) for at, text in texts]
    return [(at, told) for at, told in lines if told]


@pytest.mark.parametrize(
    ("span", "width", "language"),
    [
        ("a quarter", 250, "en"),
        ("a year", 330, "de"),
        ("31 months", 330, "en"),
        ("31 months", 660, "de"),
        ("five years", 250, "en"),
    ],
)
def test_names_of_months_stand_apart_and_have_their_year(span: str, width: int, language: str) -> None:
    """On a phone the name beside the first one touched it, and no later year was told at all."""
    found = named(SPANS[span], width, language)
    ats = [at for at, _ in found]
    assert len(found) >= 2
    assert min(after - before for before, after in pairwise(ats)) >= WIDEST_PX
    assert len(found[0][1]) == 2
    years = [int(told[-1]) for _, told in found if len(told) == 2]
    assert years[0] <= 2025
    assert years == list(range(years[0], (dt.date(2024, 3, 4) + dt.timedelta(days=SPANS[span])).year + 1))
