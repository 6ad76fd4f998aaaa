from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.estimates import Estimates, by_month, by_quarter, kept_days
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


def test_what_is_to_be_written_are_estimates_that_are_new_or_other_ones() -> None:
    known = Estimates({"stands": "[1]", "another": "[2]", "nobody asks": "[3]"})
    known.leave("stands")
    known.keep("another", "told anew", 0)
    known.keep("new", None, 0)
    gone, new = known.changes()
    assert gone == {"nobody asks"}
    assert set(new) == {"another", "new"}


@pytest.mark.parametrize(
    ("as_of", "kept"),
    [
        (dt.date(2026, 4, 1), ["2026-04-01", "2026-03-30", "2026-03-23", "2026-03-01"]),
        (dt.date(2026, 6, 1), ["2026-06-01", "2026-05-25", "2026-05-01"]),
        (dt.date(2026, 1, 31), ["2026-01-26", "2026-01-19", "2026-01-01", "2025-12-01"]),
    ],
)
def test_days_that_are_kept_reach_from_this_week_to_the_month_before(as_of: dt.date, kept: list[str]) -> None:
    assert [day.isoformat() for day in kept_days(as_of)] == kept


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


STARTS = [dt.date(2025, month, 1) for month in (1, 4, 7, 10)]
WEEKS = pl.DataFrame(
    {
        "on_date": [dt.date(2025, 1, 5) + dt.timedelta(days=7 * week) for week in range(45)],
        "x": [float(week) for week in range(45)],
    }
)


def with_late(on: dt.date) -> pl.DataFrame:
    return pl.concat([WEEKS, pl.DataFrame({"on_date": [on], "x": [100.0]})])


def sums_by_quarter(rows: pl.DataFrame, starts: list[dt.date], known: Estimates) -> tuple[list[list[float]], list[dt.date]]:
    """The sum before each quarter, and the quarters of which it was made."""
    made: list[dt.date] = []

    def make(told: pl.DataFrame, start: dt.date) -> list[float]:
        made.append(start)
        return [told.filter(pl.col("on_date") < start)["x"].sum()]

    return by_quarter(known, "sums", rows, starts, make), made


def test_estimates_of_all_quarters_are_recalled_together_while_the_rows_before_the_newest_stand() -> None:
    first = Estimates()
    plain, made = sums_by_quarter(WEEKS, STARTS, first)
    assert made == STARTS
    today = with_late(dt.date(2025, 11, 20))
    assert sums_by_quarter(today, STARTS, Estimates(first.asked)) == (plain, [])


@pytest.mark.parametrize("n_quiet_nights", [0, 2])
def test_when_a_quarter_begins_only_its_own_estimate_is_made(n_quiet_nights: int) -> None:
    known = Estimates()
    before, _ = sums_by_quarter(WEEKS, STARTS[:-1], known)
    for _ in range(n_quiet_nights):
        known = Estimates(known.asked)
        sums_by_quarter(WEEKS, STARTS[:-1], known)
    found, made = sums_by_quarter(WEEKS, STARTS, Estimates(known.asked))
    assert made == STARTS[-1:]
    assert found == [*before, [WEEKS.filter(pl.col("on_date") < STARTS[-1])["x"].sum()]]


@pytest.mark.parametrize(("on", "anew"), [(dt.date(2025, 8, 3), STARTS[-1:]), (dt.date(2025, 2, 3), STARTS)])
@pytest.mark.parametrize("n_quiet_nights", [0, 2])
def test_what_a_late_row_may_have_changed_is_made_anew(on: dt.date, anew: list[dt.date], n_quiet_nights: int) -> None:
    known = Estimates()
    plain, _ = sums_by_quarter(WEEKS, STARTS, known)
    for _ in range(n_quiet_nights):
        known = Estimates(known.asked)
        sums_by_quarter(WEEKS, STARTS, known)
    found, made = sums_by_quarter(with_late(on), STARTS, Estimates(known.asked))
    assert made == anew
    assert found == [[x + 100.0 * (on < start)] for (x,), start in zip(plain, STARTS, strict=True)]


def test_estimates_of_no_quarter_are_none() -> None:
    assert sums_by_quarter(WEEKS.clear(), [], Estimates()) == ([], [])


MONTHS = [dt.date(2025, month, 1) for month in range(1, 7)]
CELLS = pl.DataFrame({"month_on": [month for month in MONTHS for _ in range(2)], "x": [float(n) for n in range(12)]})


def sums_by_month(rows: pl.DataFrame, months: list[dt.date], known: Estimates) -> tuple[list[list[float]], list[dt.date]]:
    """The sum up to each month, and the months of which it was made."""
    made: list[dt.date] = []

    def make(told: pl.DataFrame, month: dt.date) -> list[float]:
        made.append(month)
        return [told.filter(pl.col("month_on") <= month)["x"].sum()]

    return by_month(known, "sums", rows, months, make), made


def test_of_months_only_the_last_two_are_made_again_also_when_one_begins() -> None:
    first = Estimates()
    begun = CELLS.filter(pl.col("month_on") < MONTHS[-1])
    sums_by_month(begun, MONTHS[:-1], first)
    second = Estimates(first.asked)
    assert sums_by_month(begun, MONTHS[:-1], second)[1] == MONTHS[3:5]
    plain, made = sums_by_month(CELLS, MONTHS, Estimates())
    assert made == MONTHS
    third = Estimates(second.asked)
    assert sums_by_month(CELLS, MONTHS, third) == (plain, MONTHS[3:])
    assert sums_by_month(CELLS, MONTHS, Estimates(third.asked)) == (plain, MONTHS[4:])


def test_a_late_row_makes_the_months_anew_that_it_may_have_changed() -> None:
    known = Estimates()
    plain, _ = sums_by_month(CELLS, MONTHS, known)
    for on, anew in ((MONTHS[4], MONTHS[4:]), (MONTHS[1], MONTHS)):
        late = pl.concat([CELLS, pl.DataFrame({"month_on": [on], "x": [100.0]})])
        found, made = sums_by_month(late, MONTHS, Estimates(known.asked))
        assert made == anew
        assert found == [[x + 100.0 * (on <= month)] for (x,), month in zip(plain, MONTHS, strict=True)]


def test_months_too_few_to_be_closed_are_made() -> None:
    known = Estimates()
    assert sums_by_month(CELLS, MONTHS[:2], known)[1] == MONTHS[:2]
    assert sums_by_month(CELLS.clear(), [], known) == ([], [])
    assert known.asked == {}
