"""What the browser draws of each kind of chart: compiled once, for every width and span."""

from __future__ import annotations

import json
import re
from typing import Any

import polars as pl
import pytest
import vl_convert

from reports import theme
from reports.charts import VL_VERSION, ChartBook, Style, templates
from reports.numbers import Numbers
from reports.words import words
from schemas.academy import Units

WIDTH = 317
SPAN = (1_719_792_000_000, 1_727_740_800_000)


@pytest.fixture(scope="module")
def book() -> ChartBook:
    return ChartBook(Style(words("en"), Numbers(words("en"), Units())))


def _compiled(spec: dict[str, Any]) -> dict[str, Any]:
    plan: dict[str, Any] = vl_convert.vegalite_to_vega(spec | {"config": theme.chart_config()}, vl_version=VL_VERSION)
    return plan


def _wide(spec: dict[str, Any], width: int) -> dict[str, Any]:
    """A specification whose views fill another width."""

    def put(part: Any) -> Any:
        if isinstance(part, dict):
            return {key: width if key == "width" and value == theme.CHART_WIDTH else put(value) for key, value in part.items()}
        return [put(item) for item in part] if isinstance(part, list) else part

    done: dict[str, Any] = put(spec)
    return done


@pytest.mark.parametrize("kind", sorted(templates()))
def test_a_plan_with_another_width_is_the_one_compiled_for_it(book: ChartBook, kind: str) -> None:
    plan = book.plans()[kind]
    as_page = plan | ({"width": WIDTH} if plan.get("width") == theme.CHART_WIDTH else {})
    assert as_page == _compiled(_wide(book.spec(kind), WIDTH))
    assert not any("values" in one for one in plan["data"])


def test_a_chosen_span_stands_where_the_compiler_would_have_put_it(book: ChartBook) -> None:
    spanned = {name: plan for name, plan in book.plans().items() if name.endswith(" spanned")}
    assert list(spanned) == ["trend spanned"]
    text = json.dumps(spanned["trend spanned"])
    for mark, day in zip(theme.SPAN_MARKS, SPAN, strict=True):
        assert str(mark) in text
        text = text.replace(str(mark), str(day))
    whole = book.spec("trend")
    params = [one | ({"value": {"x": list(SPAN)}} if one["name"] == "brush" else {}) for one in whole["params"]]
    assert json.loads(text) == _compiled(whole | {"params": params})


def test_charts_keep_what_a_page_asks_of_them(book: ChartBook) -> None:
    for kind in templates():
        assert book.plans()[kind].get("usermeta") == book.spec(kind).get("usermeta"), kind


@pytest.mark.parametrize(("kind", "more"), [("forest", {"called": "up"}), ("academy_effects", {})])
def test_ten_on_an_axis_of_changes_is_written_out(book: ChartBook, kind: str, more: dict[str, str]) -> None:
    rows = pl.DataFrame([{"label": "Wren", "value": 6.0, "low": -2.0, "high": 9.7, "n": 9} | more])
    drawn = book.svg(kind, {"rows": rows})
    assert ">+8<" in drawn or ">+5<" in drawn
    assert "e+" not in "".join(re.findall(r">([^<]*)</text>", drawn))
