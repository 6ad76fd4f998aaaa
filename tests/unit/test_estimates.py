from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl

from pipelines.measures.estimates import Estimates, by_quarter
from pipelines.measures.trend.assembly import trends
from tests.unit.trend_world import summaries

ROWS = pl.DataFrame({"player_id": ["a", "b"], "x": [0.1, 1.0 / 3.0]})


def test_the_same_inputs_are_not_computed_again_and_come_back_to_the_last_digit() -> None:
    first = Estimates()
    value = [float(np.float64(0.1) + 0.2), None, True, "bay", float("inf")]
    assert first.once("norm", ROWS, 3.0, lambda: value) == value
    again = Estimates(first.asked)
    assert again.once("norm", ROWS, 3.0, list) == value
    assert again.asked == first.asked


def test_any_other_input_is() -> None:
    first = Estimates()
    first.once("norm", ROWS, 3.0, lambda: [1])
    known = Estimates(first.asked)
    others = (
        ("offsets", ROWS, 3.0),
        ("norm", ROWS, 3.5),
        ("norm", ROWS.reverse(), 3.0),
        ("norm", ROWS.with_columns(pl.col("x") + 1e-15), 3.0),
        ("norm", ROWS.rename({"x": "y"}), 3.0),
        ("norm", ROWS.head(1), 3.0),
    )
    for what, rows, beside in others:
        assert known.once(what, rows, beside, lambda: [2]) == [2]


def test_trends_with_estimates_of_before_are_those_without() -> None:
    device = np.where(np.arange(40) % 3 == 0, "bay-2", "bay-1")[None, :].repeat(7, axis=0)
    told = summaries(5, 7, 40, device=device)
    earlier = Estimates()
    trends(told.filter(pl.col("on_date") < told["on_date"].max()), estimates=earlier)
    later = Estimates(earlier.asked)
    plain, built = trends(told), trends(told, estimates=later)
    assert len(later.asked.keys() & earlier.asked.keys()) > len(later.asked) / 2
    assert all(one.equals(other) for one, other in zip(built.parts, plain.parts, strict=True))
    assert built.norms.equals(plain.norms)
    assert built.offsets.equals(plain.offsets)


def test_estimates_of_quarters_that_are_closed_are_recalled_together_and_made_anew_with_a_late_row() -> None:
    starts = [dt.date(2025, month, 1) for month in (1, 4, 7, 10)]
    days = [dt.date(2025, 1, 5) + dt.timedelta(days=7 * week) for week in range(45)]
    rows = pl.DataFrame({"on_date": days, "x": [float(week) for week in range(45)]})
    made: list[dt.date] = []

    def make(told: pl.DataFrame, start: dt.date) -> list[float]:
        made.append(start)
        return [told.filter(pl.col("on_date") < start)["x"].sum()]

    first = Estimates()
    plain = by_quarter(first, "sums", rows, starts, make)
    assert made == starts
    made.clear()
    again = Estimates(first.asked)
    assert by_quarter(again, "sums", rows, starts, make) == plain
    assert made == starts[-2:]
    late = pl.concat([rows, pl.DataFrame({"on_date": [dt.date(2025, 2, 3)], "x": [100.0]})])
    made.clear()
    assert by_quarter(Estimates(again.asked), "sums", late, starts, make) == [[0.0], *([x + 100.0] for (x,) in plain[1:])]
    assert made == starts
