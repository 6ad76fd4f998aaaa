"""What stands in a pattern is escaped unless it is markup; numbers are rounded as columns are."""

from __future__ import annotations

import polars as pl
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup, escape

from reports.chart_rows import rounded
from reports.markup import filled, joined, safe


@given(st.text())
def test_text_is_escaped_as_the_library_does(text: str) -> None:
    assert safe(text) == escape(text)
    assert filled("<p>{}</p>", text) == Markup("<p>{}</p>").format(text)
    assert joined([text, Markup("<br>"), text]) == escape(text) + Markup("<br>") + escape(text)


def test_markup_stands_as_it_is_and_what_is_made_is_markup() -> None:
    assert filled("<p>{}{}</p>", Markup("<b>1</b>"), 2) == "<p><b>1</b>2</p>"
    assert filled("<i>{}</i>", filled("<p>{}</p>", "{<}")) == "<i><p>{&lt;}</p></i>"
    assert safe(joined(["<", "&"])) == "&lt;&amp;"


@given(st.lists(st.floats(-1e6, 1e6), min_size=1), st.integers(0, 4))
def test_one_number_is_rounded_as_a_column_is(values: list[float], digits: int) -> None:
    assert [repr(rounded(value, digits)) for value in values] == [repr(value) for value in pl.Series(values).round(digits)]
