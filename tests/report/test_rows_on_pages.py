"""How the rows behind a chart stand on a page, and that each kind of chart is what the chart library's own schema accepts."""

from __future__ import annotations

import json
import math
from datetime import date, timedelta
from typing import Any

import altair as alt
import polars as pl
import pytest

from reports.chart_rows import chart_rows, listed_rows
from reports.charts import ChartBook, Style, templates
from reports.numbers import Numbers
from reports.words import words
from schemas.academy import Units


def read_back(column: Any) -> list[Any]:
    """The values of a column as the page's script has them."""
    if isinstance(column, list):
        return column
    if "runs" in column:
        return [value for value, n in column["runs"] for _ in range(n)]
    at, found = 0, []
    for step in column.get("days", column.get("steps")):
        at += step or 0
        found.append(None if step is None else date(1970, 1, 1) + timedelta(at) if "days" in column else at / column["by"])
    return found


DAYS = [None, date(2026, 3, 14), None, date(2026, 3, 1), date(2026, 3, 1), date(2025, 12, 31)]


@pytest.mark.parametrize(
    ("values", "kind", "stands"),
    [
        (DAYS, pl.Date, {"days": [None, 20526, None, -13, 0, -60]}),
        ([None, 104.4, 104.1, -0.2], pl.Float64, {"steps": [None, 1044, -3, -1043], "by": 10}),
        ([1.0, 2.0, 2.25, None], pl.Float64, {"steps": [100, 100, 25, None], "by": 100}),
        ([1, 2, 2, 9], pl.Int64, {"steps": [1, 1, 0, 7], "by": 1}),
        ([1.0, 2.0, 1 / 3, 0.5], pl.Float64, [1.0, 2.0, 1 / 3, 0.5]),
        ([0.1, 0.2, 0.3], pl.Float64, [0.1, 0.2, 0.3]),
        (["a", "a", "a", "a", None], pl.String, {"runs": [["a", 4], [None, 1]]}),
        (["a", "b", "a", "b"], pl.String, ["a", "b", "a", "b"]),
        ([False, False, False, False, True, True], pl.Boolean, {"runs": [[False, 4], [True, 2]]}),
        ([], pl.Float64, []),
    ],
)
def test_columns_stand_short_and_come_back_as_they_were(values: list[Any], kind: Any, stands: Any) -> None:
    rows = chart_rows(pl.DataFrame({"column": values}, schema={"column": kind}))
    assert json.loads(rows.text)["column"] == stands
    assert read_back(stands) == values
    assert rows.frame["column"].to_list() == values


def test_every_tenth_hundredth_and_thousandth_comes_back_as_it_was() -> None:
    """A number that stands in a scale is the nearest one to what was meant, whichever it is."""
    for by in (10, 100, 1000):
        values = [place / by for place in range(-1500, 200_000, 7)]
        stands = json.loads(chart_rows(pl.DataFrame({"value": values})).text)["value"]
        assert stands["by"] == by
        assert read_back(stands) == values


@pytest.mark.parametrize("values", [[math.nan], [1.0, math.inf, 2.0, 3.0]])
def test_what_is_no_number_is_refused(values: list[float]) -> None:
    with pytest.raises(ValueError, match=r"finite|compliant"):
        chart_rows(pl.DataFrame({"value": values})).text  # noqa: B018 - the text is made when it is asked for


def test_rows_made_one_by_one_are_the_same_as_those_of_a_frame() -> None:
    schema = {"day": pl.Date, "words": pl.String}
    made = [{"day": day, "words": "new"} for day in DAYS]
    rows = listed_rows(made, schema)
    assert rows.rows() == made
    assert rows.text == chart_rows(rows.frame).text
    assert (rows.height, listed_rows([], schema).height) == (6, 0)
    assert listed_rows([], schema).frame.schema == schema


@pytest.mark.parametrize("kind", sorted(templates()))
def test_each_kind_of_chart_is_valid_by_the_librarys_schema(kind: str) -> None:
    """Made once with every check of the library, and then as a build makes it, without them: the same specification."""
    style = Style(words("en"), Numbers(words("en"), Units()))
    whole = templates()[kind](style).to_dict(validate=True)
    drawn = ChartBook(style).spec(kind)
    assert {key: value for key, value in whole.items() if key in drawn} == drawn
    assert set(whole) - set(drawn) <= {"config", "$schema", "datasets"}
    assert alt.utils.schemapi.DEBUG_MODE
