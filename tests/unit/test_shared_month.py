"""What is shared of a month, by hand: centres, growth, scatter, blocks, completeness."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import polars as pl
import pytest

from pipelines.measures.federation.cohorts import Cohort
from pipelines.measures.federation.month import SCATTER, SPEED, month_end, month_of_blocks, month_of_levels
from pipelines.measures.federation.quality import month_of_quality

JANUARY, FEBRUARY, MARCH = (dt.date(2026, month, 1) for month in (1, 2, 3))
MARKS = tuple("abcde")


def people(marks: tuple[str, ...] = MARKS, **changed: object) -> pl.DataFrame:
    rows = [
        {"mark": mark, "sex": "female", "birth_year": 2009, "standard": "80", "left_on": None} | changed.get(mark, {})  # type: ignore[operator]
        for mark in marks
    ]
    schema = {"mark": pl.String, "sex": pl.String, "birth_year": pl.Int64, "standard": pl.String, "left_on": pl.Date}
    return pl.DataFrame(rows, schema=schema)


def levels(month_on: dt.date, values: dict[str, float], metric: str = SPEED) -> pl.DataFrame:
    day = month_on + dt.timedelta(days=9)
    return pl.DataFrame(
        [{"mark": mark, "metric": metric, "session_id": "s", "on_date": day, "level": value} for mark, value in values.items()]
    )


FIRST = dict(zip(MARKS, (40.0, 42.0, 44.0, 46.0, 48.0), strict=True))


def test_a_cohort_is_told_by_geometric_mean_and_spread() -> None:
    made = month_of_levels((), (), people(), levels(JANUARY, FIRST), JANUARY)
    (row,) = made.rows.to_dicts()
    logs = [100 * math.log(value) for value in FIRST.values()]
    centre = sum(logs) / 5
    assert row["speed_centre_mps"] == pytest.approx(math.exp(centre / 100), abs=0.005)
    assert row["speed_spread_pct"] == pytest.approx(math.sqrt(sum((x - centre) ** 2 for x in logs) / 4), abs=0.05)
    assert (row["n_persons"], row["sex"], row["age_band"], row["standard"]) == (5, "female", "16_17", "80")
    assert row["since_on"] is None
    assert row["scatter_centre_m"] is None


def test_growth_is_the_change_of_what_was_shared_and_its_spread_that_of_persons() -> None:
    first = levels(JANUARY, FIRST)
    made = month_of_levels((), (), people(), first, JANUARY)
    grown = {mark: value * (1.02 + 0.01 * at) for at, (mark, value) in enumerate(FIRST.items())}
    later = pl.concat([first, levels(FEBRUARY, grown)])
    (row,) = month_of_levels(made.cohorts, (), people(), later, FEBRUARY).rows.to_dicts()
    shared = made.rows["speed_centre_mps"][0]
    assert row["since_on"] == JANUARY
    assert row["growth_pct"] == pytest.approx(100 * math.log(row["speed_centre_mps"] / shared), abs=0.005)
    changes = [100 * math.log(1.02 + 0.01 * at) for at in range(5)]
    mean = sum(changes) / 5
    assert row["growth_spread_pct"] == pytest.approx(math.sqrt(sum((x - mean) ** 2 for x in changes) / 4), abs=0.05)


def test_fewer_than_five_who_have_swung_since_and_nothing_is_shared_anew() -> None:
    first = levels(JANUARY, FIRST)
    made = month_of_levels((), (), people(), first, JANUARY)
    four = pl.concat([first, levels(FEBRUARY, {mark: FIRST[mark] for mark in "abcd"})])
    after = month_of_levels(made.cohorts, (), people(), four, FEBRUARY)
    assert after.rows.is_empty()
    all_five = pl.concat([four, levels(MARCH, {mark: FIRST[mark] for mark in "ae"})])
    assert month_of_levels(after.cohorts, (), people(), all_five, MARCH).rows.height == 1


def test_four_persons_are_shared_by_nobody_and_a_fifth_changes_that() -> None:
    four = {mark: FIRST[mark] for mark in "abcd"}
    made = month_of_levels((), (), people(), levels(JANUARY, four), JANUARY)
    assert made.rows.is_empty()
    assert month_of_levels((), (), people(), levels(JANUARY, FIRST), JANUARY).rows.height == 1


def test_who_has_left_or_not_swung_for_a_quarter_joins_no_cohort() -> None:
    gone = people(e={"left_on": dt.date(2026, 1, 20)})
    assert month_of_levels((), (), gone, levels(JANUARY, FIRST), JANUARY).rows.is_empty()
    old = levels(JANUARY, FIRST).with_columns(pl.lit(dt.date(2025, 10, 1)).alias("on_date"))
    assert month_of_levels((), (), people(), old, JANUARY).rows.is_empty()


def test_a_member_who_leaves_counts_with_the_last_level_and_an_erased_one_ends_the_cohort() -> None:
    first = levels(JANUARY, FIRST)
    made = month_of_levels((), (), people((*MARKS, "f")), pl.concat([first, levels(JANUARY, {"f": 45.0})]), JANUARY)
    (cohort,) = made.cohorts
    assert len(cohort.members) == 6
    later = pl.concat([first, levels(JANUARY, {"f": 45.0}), levels(FEBRUARY, FIRST)])
    gone = people((*MARKS, "f"), f={"left_on": dt.date(2026, 1, 25)})
    (row,) = month_of_levels(made.cohorts, (), gone, later, FEBRUARY).rows.to_dicts()
    assert row["n_persons"] == 6
    assert row["growth_spread_pct"] is None
    erased = month_of_levels(made.cohorts, (), people(), later.filter(pl.col("mark") != "f"), FEBRUARY)
    assert erased.rows.is_empty()
    assert [one.ended for one in erased.cohorts] == [True]


def test_a_cohort_ends_when_a_member_has_not_swung_for_a_year() -> None:
    made = month_of_levels((), (), people(), levels(JANUARY, FIRST), JANUARY)
    next_year = JANUARY.replace(year=2027)
    rest = {mark: value for mark, value in FIRST.items() if mark != "e"}
    later = pl.concat([levels(JANUARY, FIRST), levels(next_year, rest)])
    assert [one.ended for one in month_of_levels(made.cohorts, (), people(), later, next_year).cohorts] == [True]


def test_scatter_is_told_when_it_is_known_of_all_and_anew_when_five_have_a_new_one() -> None:
    sides = levels(JANUARY, dict.fromkeys("abcd", 12.0), SCATTER)
    some = month_of_levels((), (), people(), pl.concat([levels(JANUARY, FIRST), sides]), JANUARY)
    assert some.rows["scatter_centre_m"].to_list() == [None]
    whole = pl.concat([levels(JANUARY, FIRST), levels(JANUARY, dict.fromkeys(MARKS, 12.0), SCATTER)])
    made = month_of_levels((), (), people(), whole, JANUARY)
    assert made.rows.select("scatter_centre_m", "scatter_spread_pct").row(0) == (12.0, 0.0)
    later = pl.concat([whole, levels(FEBRUARY, FIRST), levels(FEBRUARY, dict.fromkeys("abcd", 11.0), SCATTER)])
    assert month_of_levels(made.cohorts, (), people(), later, FEBRUARY).rows["scatter_centre_m"].to_list() == [None]


def test_what_members_have_in_common_is_looked_at_once_a_year() -> None:
    made = month_of_levels((), (), people(), levels(JANUARY, FIRST), JANUARY)
    better = people(a={"standard": "scratch"})
    later = pl.concat([levels(JANUARY, FIRST), levels(FEBRUARY, FIRST)])
    after = month_of_levels(made.cohorts, (), better, later, FEBRUARY)
    assert after.rows["standard"].to_list() == ["80"]
    next_year = JANUARY.replace(year=2027)
    row = month_of_levels(after.cohorts, (), better, pl.concat([later, levels(next_year, FIRST)]), next_year).rows.row(
        0, named=True
    )
    assert (row["standard"], row["age_band"]) == (None, "18_24")


def test_a_member_whose_row_of_the_players_file_is_gone_counts_and_is_like_nobody() -> None:
    made = month_of_levels((), (), people(), levels(JANUARY, FIRST), JANUARY)
    next_year = JANUARY.replace(year=2027)
    later = pl.concat([levels(JANUARY.replace(month=6), FIRST), levels(next_year, FIRST)])
    row = month_of_levels(made.cohorts, (), people(tuple("abcd")), later, next_year).rows.row(0, named=True)
    assert (row["n_persons"], row["sex"], row["standard"]) == (5, None, None)


def blocks(marks: str, ended_on: dt.date = dt.date(2026, 1, 20)) -> pl.DataFrame:
    rows = [
        {
            "mark": mark,
            "block": f"{mark}1",
            "began_on": dt.date(2025, 12, 1),
            "ended_on": ended_on,
            "effect_pct": 2.0 + at,
            "error_pct": 0.5,
        }
        for at, mark in enumerate(marks)
    ]
    return pl.DataFrame(rows)


def test_blocks_of_five_persons_are_one_estimate_and_count_once() -> None:
    made = month_of_blocks(blocks("abcde"), (), (), (), JANUARY)
    (row,) = made.rows.to_dicts()
    assert (row["effect_pct"], row["n_persons"], row["n_blocks"]) == (4.0, 5, 5)
    assert row["error_pct"] == pytest.approx(math.sqrt(2.5 / 5), abs=0.005)  # equal weights: standard deviation over root n
    assert made.told == {f"{mark}1" for mark in "abcde"}
    assert month_of_blocks(blocks("abcde"), made.told, (made.persons,), (), FEBRUARY).rows.is_empty()


def test_blocks_wait_for_five_persons_and_for_their_end() -> None:
    twice = pl.concat([blocks("abcd"), blocks("abcd").with_columns(pl.col("block") + "x")])
    assert month_of_blocks(twice, (), (), (), JANUARY).rows.is_empty()
    assert month_of_blocks(blocks("abcde", dt.date(2026, 2, 3)), (), (), (), JANUARY).rows.is_empty()
    assert month_of_blocks(blocks("abcde", dt.date(2026, 2, 3)), (), (), (), FEBRUARY).rows.height == 1


def test_blocks_wait_while_the_growth_of_a_cohort_would_leave_a_few() -> None:
    shared = ((dt.date(2025, 11, 1), 44.0), (JANUARY, 45.0))
    cohort = Cohort(1, frozenset("abcdef"), shared=shared)
    assert month_of_blocks(blocks("abcde"), (), (), (cohort,), JANUARY).rows.is_empty()
    before = replace(cohort, shared=shared[:1])
    assert month_of_blocks(blocks("abcde"), (), (), (before,), JANUARY).rows.height == 1
    assert month_of_blocks(blocks("abcdef"), (), (), (cohort,), JANUARY).rows.height == 1


def test_blocks_wait_while_an_earlier_estimate_would_leave_a_few() -> None:
    later = blocks("abcdf").with_columns(pl.col("block") + "x")
    assert month_of_blocks(later, (), (frozenset("abcde"),), (), JANUARY).rows.is_empty()
    again = month_of_blocks(blocks("abcde"), (), (frozenset("abcde"),), (), JANUARY)
    assert again.rows["batch"].to_list() == [2]
    others = month_of_blocks(blocks("vwxyz"), (), (frozenset("abcde"),), (), JANUARY)
    assert others.persons == frozenset("vwxyz")


def test_completeness_is_told_in_whole_per_cents_of_five_persons_or_more() -> None:
    sessions = pl.DataFrame(
        {
            "player_id": list(MARKS),
            "on_date": [JANUARY] * 5,
            "device_id": ["d", "d", None, None, "d"],
            "n_shots": [10] * 5,
            "ball_speed_mps_n": [10, 10, 10, 0, 3],
            "offline_m_n": [0] * 5,
        }
    )
    days = pl.Series([dt.date(2026, 1, 5), dt.date(2026, 2, 1)]).cast(pl.Datetime("us"))
    came = pl.DataFrame({"received_at": days, "n_rows": [200, 5], "n_quarantined": [3, 5]})
    (row,) = month_of_quality(sessions, came, JANUARY).to_dicts()
    assert (row["n_files"], row["quarantined_pct"], row["device_named_pct"]) == (1, 2.0, 60.0)
    assert (row["ball_speed_pct"], row["side_pct"]) == (66.0, 0.0)
    assert month_of_quality(sessions[:4], came, JANUARY).is_empty()
    assert month_of_quality(sessions, came[1:], JANUARY)["quarantined_pct"].to_list() == [None]


def test_months_end() -> None:
    assert [month_end(dt.date(2024, month, 1)).day for month in (1, 2, 4, 12)] == [31, 29, 30, 31]
