from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.body.items import body_items
from pipelines.measures.flags.candidates import candidates
from pipelines.measures.flags.pattern_rules import Judged, overuse_patterns, problem_reports
from pipelines.measures.load.grid import DayGrid
from pipelines.measures.problems.availability import availability
from pipelines.measures.problems.score import problem_scores

FIRST = dt.date(2026, 1, 4)
DAYS = 120
GRID = DayGrid(("P1",), FIRST, FIRST + dt.timedelta(days=DAYS - 1))


def forms(*answers: tuple[int, str, int, int]) -> pl.DataFrame:
    """(week, region, participation, modified) of one player."""
    rows = [
        ("P1", FIRST + dt.timedelta(weeks=week), region, taking, changed, 1, 1, "gradual")
        for week, region, taking, changed in answers
    ]
    names = ("player_id", "week_ending", "region", "participation", "modified", "performance", "symptoms", "onset")
    return problem_scores(pl.DataFrame(rows, schema=names, orient="row"))


def test_a_substantial_problem_opens_as_a_fact_and_a_form_without_it_closes() -> None:
    rows = problem_reports(forms((0, "neck", 1, 2), (1, "neck", 1, 1), (2, "other", 0, 0)))
    assert rows.select("opens", "holds", "certain").rows() == [(True, True, True), (False, True, False), (False, False, False)]
    assert rows["value"].to_list() == [41.0, 32.0, None]
    assert rows["reasons"].to_list()[0] == ["substantial", "onset:gradual"]


def test_a_small_problem_opens_when_it_stays_for_three_forms() -> None:
    rows = problem_reports(forms(*((week, "neck", 1, 1) for week in range(4))))
    assert rows["opens"].to_list() == [False, False, True, True]
    assert rows["certain"].to_list() == [False] * 4
    assert rows["n"].to_list() == [1, 2, 3, 4]


def test_full_participation_says_nothing() -> None:
    assert problem_reports(forms((0, "neck", 0, 0), (1, "other", 0, 0))).is_empty()


def spoken(kind: str, *days: int, region: str = "", opens: bool = True) -> pl.DataFrame:
    rows = [
        {
            "player_id": "P1",
            "on_date": FIRST + dt.timedelta(days=day),
            "kind": kind,
            "region": region,
            "opens": opens,
            "holds": True,
            "certain": True,
        }
        for day in days
    ]
    schema = {
        "player_id": pl.String,
        "on_date": pl.Date,
        "kind": pl.String,
        "region": pl.String,
        "opens": pl.Boolean,
        "holds": pl.Boolean,
        "certain": pl.Boolean,
    }
    return candidates(pl.DataFrame(rows, schema=schema))


def patterns(
    jumps: pl.DataFrame, stiff: pl.DataFrame, falls: pl.DataFrame, short_from: int = DAYS, speed_known: bool = True
) -> pl.DataFrame:
    hours = [8.0 + 0.2 * (day % 3) - (2.5 if day >= short_from else 0) for day in range(DAYS)]
    answers = pl.DataFrame(
        {"player_id": "P1", "on_date": [FIRST + dt.timedelta(days=day) for day in range(DAYS)], "sleep_h": hours}
    )
    sleep = next(body_items(answers, GRID, ("sleep_h",)))
    everywhere = np.ones(GRID.shape, dtype=bool)
    return overuse_patterns(GRID, jumps, stiff, falls, sleep, Judged(everywhere, everywhere & speed_known))


NONE = spoken("load_jump")


def test_one_sign_alone_is_no_pattern() -> None:
    assert patterns(spoken("load_jump", 60), NONE, NONE).is_empty()
    assert patterns(NONE, spoken("body_stiff", 60, region="neck"), NONE).is_empty()


def test_load_up_and_a_stiff_region_go_together_for_as_long_as_both_count() -> None:
    rows = patterns(spoken("load_jump", 60), spoken("body_stiff", 65, 66, 70, region="neck"), NONE)
    nights = [(night - FIRST).days for night in rows.filter("opens")["on_date"]]
    assert nights == list(range(65, 74))  # the jump counts to day 73, the region to day 76
    row = rows.row(0, named=True)
    assert (row["region"], row["n"], row["certain"], row["reasons"]) == ("neck", 2, True, ["load_up", "region_stiff"])
    assert not rows.row(-1, named=True)["opens"]


def test_a_jump_after_its_two_weeks_counts_no_more() -> None:
    assert patterns(spoken("load_jump", 60), spoken("body_stiff", 74, region="neck"), NONE).is_empty()


def test_signs_without_a_region() -> None:
    rows = patterns(spoken("load_jump", 80), NONE, spoken("speed_fall", 82), short_from=76).filter("opens")
    most = rows.sort("n", maintain_order=True).row(-1, named=True)
    assert (most["region"], most["n"], most["certain"]) == ("", 3, True)
    assert most["reasons"] == ["load_up", "speed_fall", "sleep_short"]
    assert rows.row(0, named=True)["certain"] is False


def test_what_could_not_be_judged_is_said() -> None:
    rows = patterns(spoken("load_jump", 60), spoken("body_stiff", 65, region="neck"), NONE, speed_known=False)
    assert "missing:speed" in rows["reasons"].to_list()[0]


def test_a_region_that_only_held_without_opening_is_no_sign() -> None:
    assert patterns(spoken("load_jump", 60), spoken("body_stiff", 62, 63, region="neck", opens=False), NONE).is_empty()


@pytest.mark.parametrize(
    ("absence", "form", "expected"),
    [
        (None, None, "full"),
        ((10, None), None, "not_available"),
        ((10, 18), None, "full"),
        ((10, 19), None, "not_available"),
        (None, (15, 1, 0), "modified"),
        (None, (15, 3, 0), "not_available"),
        (None, (2, 3, 0), "full"),
        (None, (15, 0, 0), "full"),
    ],
)
def test_availability(absence: tuple[int, int | None] | None, form: tuple[int, int, int] | None, expected: str) -> None:
    def day(number: int | None) -> dt.date | None:
        return None if number is None else FIRST + dt.timedelta(days=number)

    lately = [day(19)] * 2 + [day(19 - 29)]
    players = pl.DataFrame({"player_id": ["P1", "P2", "P3"], "agreed": [True, False, True], "last_told_on": lately})
    away = pl.DataFrame(
        [("P1", day(absence[0]), day(absence[1]))] if absence else [],
        schema={"player_id": pl.String, "began_on": pl.Date, "ended_on": pl.Date}, orient="row",
    )  # fmt: skip
    told = pl.DataFrame(
        [("P1", day(form[0]), form[1], form[2])] if form else [],
        schema={"player_id": pl.String, "week_ending": pl.Date, "participation": pl.Int64, "modified": pl.Int64}, orient="row",
    )  # fmt: skip
    found = availability(players, away, told, FIRST + dt.timedelta(days=19))
    assert found["state"].to_list() == [expected, "not_shared", "not_known"]
