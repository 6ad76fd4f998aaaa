"""What is said where little is known, or nothing of it is: each sentence names what is missing, and counts what there is."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from reports.findings.data import suspicion_sentence
from reports.findings.flags import flag_sentence
from reports.findings.rounds import fewer_or_more, score_sentence
from reports.findings.trend import own_sentence
from reports.numbers import Numbers
from reports.pages.context import page_context
from reports.pages.data import _coverage_said, _known_weeks
from reports.words import NARROW_SPACE, words
from schemas.academy import Units
from tests.report.conftest import LAST_ON, Built, academy, build, insert, row

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

NUMBERS = Numbers(words("en"), Units("mph", "yd"))
GAIN: dict[str, Any] = {
    "score": 84.1, "month_on": dt.date(2026, 9, 1), "n_rounds": 11, "course": "tree-lined", "state": "no_reference",
    "expected_change": 2.0, "reference_from_on": dt.date(2026, 1, 1), "reference_to_on": dt.date(2026, 3, 1),
}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "ends"),
    [
        ({"n_reference_rounds": 0}, "there is no round from January 2026 to March 2026, with which the drives are compared."),
        ({"n_reference_rounds": 4}, "there are too few rounds to say how much they vary."),
        ({"n_reference_rounds": 0, "expected_change": None}, "rounds and drives of earlier months to compare with are missing."),
        (
            {"n_reference_rounds": 0, "reference_from_on": None},
            "rounds and drives of earlier months to compare with are missing.",
        ),
    ],
)
def test_score_cards_name_what_is_missing(changed: dict[str, Any], ends: str) -> None:
    assert score_sentence(GAIN | changed, NUMBERS).endswith(f"({11} rounds); {ends}")


@pytest.mark.parametrize(
    ("value", "said"),
    [(0.04, "less than 0.1 strokes more or fewer"), (-0.04, "less than 0.1 strokes more or fewer"), (-0.06, "0.1 strokes fewer")],
)
def test_next_to_no_strokes_are_neither_fewer_nor_more(value: float, said: str) -> None:
    assert fewer_or_more(value, NUMBERS) == said


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(43.0, 45.0, "give or take 2.2 mph"), (41.0, 44.9, "most likely from 91.7 to 100.4 mph")],
)
def test_a_level_is_told_by_both_ends_where_one_number_does_not_lead_to_them(low: float, high: float, said: str) -> None:
    row = {
        "metric": "club_speed_mps", "on_date": LAST_ON, "level": 44.0, "level_low": low, "level_high": high, "change_28": 0.4,
        "change_28_low": -1.0, "change_28_high": 1.8, "p_better": 0.2, "p_worse": 0.1, "p_trivial": 0.7, "state": "steady",
        "usual_n": 12, "worthwhile": 1.0,
    }  # fmt: skip
    assert said in own_sentence(row, NUMBERS).replace(NARROW_SPACE, " ")
    assert "has stopped rising" in own_sentence(row | {"state": "stalled"}, NUMBERS)


@pytest.mark.parametrize(
    ("n_weeks", "said"),
    [
        (26, "From 1 of them something came in nearly every one of the last 26 weeks."),
        (6, "From 2 of them something came in nearly every one of the last 6 weeks."),
        (1, "From 2 of them something came in the one week that there is so far."),
    ],
)
def test_an_academy_that_has_just_begun_misses_nobody_before_that(n_weeks: int, said: str) -> None:
    shown = pl.DataFrame({"player_id": ["a", "b", "c"], "n_weeks": [25, 6, 0]})
    assert _coverage_said(shown, 3, n_weeks, page_context(academy(), "coach", LAST_ON)).endswith(said)


def test_the_weeks_of_an_academy_are_counted_from_its_first() -> None:
    context = page_context(academy(), "coach", LAST_ON)
    monday = LAST_ON - dt.timedelta(days=LAST_ON.weekday())
    for back, n_weeks in ((0, 1), (5, 6), (25, 26), (40, 26)):
        assert _known_weeks(pl.DataFrame({"week_on": [monday - dt.timedelta(weeks=back), monday]}), context) == n_weeks
    assert _known_weeks(pl.DataFrame(schema={"week_on": pl.Date}), context) == 26


def test_a_caption_explains_the_columns_of_its_reader_alone(built: Built) -> None:
    assert "Strokes: the last three months" in built.text("coach/squad.html")
    assert "Strokes: " not in built.text("physio/squad.html")


def test_what_lasts_of_nothing_compared_is_no_good_news(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    con.execute("delete from lasting_difference where player_id = 'p1'").fetchall()
    page = build(con, tmp_path / "site").text("coach/players/p1.html")
    assert "Nothing of club, ball or load can be compared: that takes" in page
    assert "none of these differs clearly" not in page


def test_what_lasts_names_what_was_compared(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    of = {"player_id": "p1", "club_group": "driver", "against": "first", "then_on": LAST_ON, "now_on": LAST_ON, "lasts": False}
    metrics = ("strokes", "club_speed_mps")
    insert(con, "lasting_difference", [row("lasting_difference", metric=metric, **of) for metric in metrics])
    page = build(con, tmp_path / "site").text("coach/players/p1.html")
    said = page[page.index("none of these differs clearly") :].split("</p>")[0]
    assert said.endswith("club speed and strokes of the drives on the tree-lined course.")


def test_the_own_page_has_no_alarm(built: Built) -> None:
    own = "".join(page.read_text(encoding="utf-8") for page in (built.folder / "players").glob("*/index.html"))
    assert "Talk about it" in own
    assert ">Alert<" not in own
    assert "will be hurt" not in own


def test_a_season_without_drives_is_as_long_as_its_sessions(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    con.execute("update shot set club = '7-iron'").fetchall()
    con.execute("delete from trend_point where club_group = 'driver'").fetchall()
    ((first, last),) = con.execute("select min(on_date), max(on_date) from session_day where player_id = 'p1'").fetchall()
    n_months = 12 * (last.year - first.year) + last.month - first.month + 1
    page = build(con, tmp_path / "site").text("coach/season/p1.html")
    assert f"{words('en').lines('season_sheet.months')[min(12, n_months) - 1]} on one sheet" in page


SUSPECTED: dict[str, Any] = {
    "device_id": "bay-2", "metric": "club_speed_mps", "raised_on": dt.date(2026, 6, 12), "closed_on": dt.date(2026, 6, 26),
    "closed_because": "unclear", "value": 2.0, "low": 1.2, "high": 2.8, "n": 14, "decision": "players",
    "decided_on": dt.date(2026, 7, 1), "taken_off_on": dt.date(2026, 7, 9), "taken_off": 1.9, "is_taken_off": True,
}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "says", "says_not"),
    [
        ({}, "All the same it is taken off since 9 July 2026, +1.9 % of it now", "not told yet"),
        ({}, "On 1 July 2026 a person said: the players changed.", "not told yet"),
        ({"decision": "device"}, "It is taken off since 9 July 2026, +1.9 % of it now.", "All the same"),
        ({"decision": None}, "nothing is taken off. All the same it is taken off since 9 July 2026", ". It is taken off"),
        ({"decision": None, "closed_because": "device"}, "It is taken off since 9 July 2026", "All the same"),
        ({"decision": "unclear"}, "All the same", "Since 9 July 2026 +1.9 %"),
        ({"is_taken_off": False}, "nothing is taken off.", "of it now"),
        ({"closed_on": None, "decision": None, "is_taken_off": False}, "It is not told yet who moved.", "a person said"),
    ],
)
def test_a_suspicion_tells_what_was_said_of_it_and_whether_it_counted(changed: dict[str, Any], says: str, says_not: str) -> None:
    told = suspicion_sentence(SUSPECTED | changed, NUMBERS).replace(NARROW_SPACE, " ")
    assert told.startswith("bay-2, club speed: suspected on 12 June 2026, when its players moved together by +2.0 % (90 %")
    assert says in told
    assert says_not not in told


def test_a_word_on_a_closed_suspicion_stands_on_the_data_pages(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    of = {
        name: SUSPECTED[name]
        for name in ("device_id", "metric", "raised_on", "closed_on", "closed_because", "value", "low", "high", "n")
    }
    flag = row("flag", flag_id="devflag1", player_id="", kind="device_shift", audience="coach", reasons=[], sources=[], **of)
    insert(con, "flag", [flag])
    decision = row("decision", flag_id="devflag1", role="coach", decision="players", decided_on=SUSPECTED["decided_on"])
    insert(con, "decision", [decision])
    site = build(con, tmp_path / "site")
    data = next((site.folder / "data").rglob("*.html"))
    for page in (site.text("coach/data.html"), data.read_text(encoding="utf-8")):
        assert "On 1 July 2026 a person said: the players changed." in page


def test_a_plan_gap_of_months_ago_tells_of_the_newest_week() -> None:
    gap = {"kind": "plan_gap", "metric": "swings_full", "value": 43.0, "baseline": 160.0, "said_on": dt.date(2026, 2, 1)}
    gap |= {"raised_on": dt.date(2026, 2, 1), "closed_on": None, "now_on": dt.date(2026, 9, 20), "now_value": 22.0}
    ends = "So it was on 1 February 2026; in the week to 20 September 2026 it was 22."
    assert flag_sentence(gap, NUMBERS.words, NUMBERS.units).endswith(ends)
    for still in ({"closed_on": dt.date(2026, 9, 27)}, {"now_value": None}, {"now_on": dt.date(2026, 2, 1)}):
        assert flag_sentence(gap | still, NUMBERS.words, NUMBERS.units).endswith("So it was on 1 February 2026.")


def test_of_devices_that_nothing_ties_it_is_said_that_nothing_can_be_told(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    """Offsets that can be estimated were said to be taken out where there was none."""
    con.execute("delete from device_offset").fetchall()
    con.execute("update session set device_id = 'unit-9' where session_id = (select min(session_id) from shot)").fetchall()
    page = build(con, tmp_path / "site").text("coach/data.html")
    n = con.execute("select count(*) from mart_device").fetchall()[0][0]
    assert n > 1
    assert words("en")("data.devices_untold", n=n) in page
    assert "taken out before anything is compared" not in page
