"""What lasts of strokes: the change that every page has, and the same comparison with the first three months."""

from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl
import pytest

from pipelines.measures.estimates import Estimates
from pipelines.measures.scatter.months import patterns_by_month
from pipelines.measures.strokes.lasting import _rows, lasting_strokes
from pipelines.measures.strokes.months import strokes_by_month, with_neighbours
from schemas.core.ball import PATTERN_MONTH, STROKE_MONTH
from schemas.course import DEFAULT_COURSES
from tests.unit.test_month_patterns import shots

HOMES = pl.DataFrame({"player_id": ["a"], "course": ["tree-lined"]})
AS_OF = date(2026, 12, 20)


def lasting(first_scatter: float, then_scatter: float, now_scatter: float, estimates: Estimates | None = None) -> pl.DataFrame:
    """Months from January 2025: the first three, those of a year before the last, the last three."""
    scatter = {(2025, month): first_scatter for month in (1, 2, 3)}
    scatter |= {(2026, month): then_scatter for month in (1, 2, 3, 4)}
    scatter |= {(2026, month): now_scatter for month in (10, 11, 12)}
    made = [shots("a", date(year, month, 1), 80, seed=12 * year + month, scatter=one) for (year, month), one in scatter.items()]
    patterns = patterns_by_month(pl.concat(made), PATTERN_MONTH.polars_schema()).with_columns(
        standard=pl.lit("scratch"), device_error_m=0.0
    )
    months = strokes_by_month(with_neighbours(patterns), {"a": "scratch"}, DEFAULT_COURSES, STROKE_MONTH.polars_schema())
    return lasting_strokes(months, patterns, HOMES, DEFAULT_COURSES, AS_OF, estimates)


def test_the_change_against_a_year_ago_is_that_of_every_page_and_the_first_months_are_compared_alike() -> None:
    found = lasting(3.0, 5.0, 5.0)
    assert found["against"].to_list() == ["first", "year"]
    assert found["metric"].to_list() == ["strokes", "strokes"]
    first, year = found.rows(named=True)
    assert first["lasts"]
    assert not year["lasts"]
    assert first["change"] > 0.5
    assert (first["then_on"], year["then_on"]) == (date(2025, 3, 1), date(2026, 4, 1))
    assert (first["n_then"], first["n_now"]) == (240, 240)
    same = lasting(5.0, 3.0, 5.0)
    assert not same.row(0, named=True)["lasts"]
    assert same.row(1, named=True)["change"] == pytest.approx(first["change"], rel=0.35)


def test_a_comparison_with_the_first_months_that_is_known_is_not_made_again_and_any_other_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    first = Estimates()
    found = lasting(3.0, 5.0, 5.0, first)
    changed = Estimates(first.asked)
    assert lasting(3.5, 5.0, 5.0, changed).equals(lasting(3.5, 5.0, 5.0))
    assert not changed.asked.keys() & first.asked.keys()
    compared: list[int] = []

    def counted(rows: pl.DataFrame, *beside: Any) -> pl.DataFrame:
        compared.append(rows.height)
        return strokes_by_month(rows, *beside)

    monkeypatch.setattr("pipelines.measures.strokes.lasting.strokes_by_month", counted)
    again = Estimates(first.asked)
    assert lasting(3.0, 5.0, 5.0, again).equals(found)
    assert (compared, again.asked) == ([0], first.asked)


def test_old_drives_and_nobody_are_not_compared() -> None:
    schema = STROKE_MONTH.polars_schema()
    patterns = patterns_by_month(shots("a", date(2025, 1, 1), 80), PATTERN_MONTH.polars_schema())
    patterns = patterns.with_columns(standard=pl.lit("scratch"), device_error_m=0.0)
    months = strokes_by_month(with_neighbours(patterns), {"a": "scratch"}, DEFAULT_COURSES, schema)
    assert lasting_strokes(months, patterns, HOMES, DEFAULT_COURSES, AS_OF).is_empty()
    assert lasting_strokes(months.clear(), patterns.clear(), HOMES.clear(), DEFAULT_COURSES, AS_OF).is_empty()


@pytest.mark.parametrize(
    ("low", "high", "lasts"), [(-1.0, 0.0, False), (-1.0, -0.01, True), (0.0, 1.0, False), (0.01, 1.0, True)]
)
def test_a_change_whose_interval_ends_at_none_does_not_last(low: float, high: float, lasts: bool) -> None:
    day = date(2026, 3, 1)
    month = {
        "player_id": "a",
        "reference_to_on": day,
        "month_on": day,
        "change": (low + high) / 2,
        "change_low": low,
        "change_high": high,
    }
    assert _rows(pl.DataFrame([month | {"reference_n": 9, "recent_n": 9}]), "year")["lasts"].to_list() == [lasts]
