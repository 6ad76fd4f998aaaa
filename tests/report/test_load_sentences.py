"""Sentences on load and body, word by word, at and beside their limits."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from reports.findings.load_body import (
    association_sentence,
    burden_sentence,
    effort_sentence,
    month_sentence,
    prevalence_sentence,
    questions,
    rest_sentence,
    standing_word,
    state_word,
    week_sentence,
    youth_sentence,
)
from reports.findings.order import is_waiting
from reports.numbers import Numbers
from reports.pages.context import page_context
from reports.pages.squad import _usual
from reports.pages.squad_health import _load_cells
from reports.tables import Cell
from reports.words import NARROW_SPACE, words
from schemas.academy import Academy, Units

EN = words("en")
NUMBERS = Numbers(EN, Units("mph", "yd"))


def plain(text: str) -> str:
    return text.replace(NARROW_SPACE, " ")


@pytest.mark.parametrize(
    ("week", "usual", "said"),
    [
        (None, 200.0, "Only 4 of the last 7 days are known: not enough to judge the week."),
        (220.0, None, "220 swings in the last 7 days; the four weeks before are not known well enough."),
        (220.0, 0.0, "220 swings in the last 7 days; the four weeks before are not known well enough."),
        (225.0, 200.0, "225 swings in the last 7 days, 12 % more than the mean of the four weeks before (200)."),
        (225.0, 250.0, "225 swings in the last 7 days, about the mean of the four weeks before (250)."),
        (281.0, 250.0, "281 swings in the last 7 days, 12 % more than the mean of the four weeks before (250)."),
        (210.0, 250.0, "210 swings in the last 7 days, 16 % fewer than the mean of the four weeks before (250)."),
    ],
)
def test_the_week(week: float | None, usual: float | None, said: str) -> None:
    row = {"week_swings": week, "usual_week_swings": usual, "days_known_7": 4 if week is None else 7}
    assert plain(week_sentence(row, NUMBERS)) == said


@pytest.mark.parametrize(
    ("language", "known", "begins"),
    [
        ("en", 1, "Only one of the last 7 days is known:"),
        ("en", 0, "None of the last 7 days is known:"),
        ("de", 1, "Nur einer der letzten 7 Tage ist bekannt:"),
        ("de", 0, "Keiner der letzten 7 Tage ist bekannt:"),
    ],
)
def test_one_known_day_and_none_are_said_as_such(language: str, known: int, begins: str) -> None:
    row = {"week_swings": None, "usual_week_swings": None, "days_known_7": known}
    assert week_sentence(row, Numbers(words(language), Units())).startswith(begins)


def test_a_week_with_an_unknown_day_says_that_its_number_is_scaled_up() -> None:
    row = {"week_swings": 225.0, "usual_week_swings": 250.0, "days_known_7": 6}
    scaled = "It is scaled up from the 6 of 7 days that are known."
    assert plain(week_sentence(row, NUMBERS)).endswith(f"(250). {scaled}")
    assert plain(week_sentence(row | {"usual_week_swings": None}, NUMBERS)).endswith(f"well enough. {scaled}")


def test_a_week_of_the_squad_says_how_many_days_of_it_are_known() -> None:
    context = page_context(Academy("Lakeside", "Europe/Berlin"), "coach", dt.date(2026, 3, 1))
    row = {"week_swings": 225.0, "usual_week_swings": 250.0, "days_known_7": 6}
    for changed, told in (
        ({}, "6 of 7 days known usual week: 250"),
        ({"days_known_7": 7}, "usual week: 250"),
        ({"usual_week_swings": None}, "6 of 7 days known"),
        ({"week_swings": None, "days_known_7": 3}, "3 of 7 days known"),
    ):
        assert _usual(row | changed, context).replace("<br>", " ").striptags() == told
    others = dict.fromkeys(("month_percentile", "week_effort_min", "days_since_easy"))
    named = {"player_id": "p1", "alias": "Wren", "days_known_28": 27, "days_assumed_28": 0}
    of_load = [_load_cells(row | others | named | {"days_known_7": known}, context)[1] for known in (6, 7)]
    assert [cell.note for cell in of_load if isinstance(cell, Cell)] == ["6 of 7 days known", ""]


@pytest.mark.parametrize(
    ("week", "usual", "unknown", "said"),
    [
        (None, 900.0, 0, ""),
        (1100.0, None, 0, ""),
        (1100.0, 900.0, 0, "Effort × minutes: 1100 in 7 days; mean of the four weeks before: 900."),
        (
            *(1100.0, 900.0, 1),
            "Effort × minutes: 1100 in 7 days, with unknown days taken like the known ones; mean of the four weeks before: 900.",
        ),
    ],
)
def test_effort(week: float | None, usual: float | None, unknown: int, said: str) -> None:
    row = {"week_effort_min": week, "usual_week_effort_min": usual, "effort_unknown": unknown}
    assert plain(effort_sentence(row, NUMBERS)) == said


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (None, "Whether there was an easy day lately is not known: days are missing."),
        (0, "The last day was an easy one."),
        (1, "1 day since an easy day."),
        (6, "6 days since an easy day."),
    ],
)
def test_rest(days: int | None, said: str) -> None:
    assert rest_sentence({"days_since_easy": days}, EN) == said


@pytest.mark.parametrize(
    ("known", "place", "said"),
    [
        (19, 60.0, "19 of 28 days known: not enough to judge the month."),
        (20, None, "The month cannot be placed yet: the player's own history is still short."),
        (20, 60.4, "In 60 of 100 earlier spans of four weeks there were fewer swings than in the last four."),
    ],
)
def test_the_month(known: int, place: float | None, said: str) -> None:
    assert month_sentence({"days_known_28": known, "month_percentile": place}, EN) == said


CAUTION = "This can have other reasons (sleep, travel, weather, the plan itself). It is not proof that load caused it."
CLEAR = {"region": "lower_back", "n_pairs": 61, "total": 0.84, "low": 0.3, "high": 1.4, "p_value": 0.01}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"total": None}, "Stiffness of the lower back and load: only 61 days with both, too few to say."),
        ({"p_value": None}, "Over 61 days, no clear relation of stiffness of the lower back to the load of the days before."),
        ({"p_value": 0.051}, "Over 61 days, no clear relation of stiffness of the lower back to the load of the days before."),
        ({"low": 0.0}, "Over 61 days, no clear relation of stiffness of the lower back to the load of the days before."),
        ({"low": -0.1}, "Over 61 days, no clear relation of stiffness of the lower back to the load of the days before."),
        (
            {"low": -2.0, "high": 0.0},
            "Over 61 days, no clear relation of stiffness of the lower back to the load of the days before.",
        ),
        (
            {"low": None, "p_value": 0.05},
            "Over 61 days, stiffness of the lower back was higher after heavy days: 0.8 points for 10 more swings a day. "
            + CAUTION,
        ),
        (
            {},
            "Over 61 days, stiffness of the lower back was higher after heavy days: 0.8 points for 10 more swings a day "
            "(95 % interval +0.3 to +1.4). " + CAUTION,
        ),
        (
            {"total": -0.84, "low": -1.4, "high": -0.3},
            "Over 61 days, stiffness of the lower back was lower after heavy days: 0.8 points for 10 more swings a day "
            "(95 % interval \N{MINUS SIGN}1.4 to \N{MINUS SIGN}0.3). " + CAUTION,
        ),
    ],
)
def test_what_goes_with_what(changed: dict[str, Any], said: str) -> None:
    assert plain(association_sentence(CLEAR | changed, NUMBERS)) == said


@pytest.mark.parametrize(("state", "said"), [(None, ""), ("full", "fully"), ("modified", "with changes"), ("?", "")])
def test_availability(state: str | None, said: str) -> None:
    assert state_word(state, EN) == said


UNTIL = dt.date(2026, 3, 14)


@pytest.mark.parametrize(
    ("row", "said", "waits"),
    [
        ({"decision": None, "decided_until": None}, "not decided yet", True),
        ({"decision": "watch", "decided_until": UNTIL}, "watch until 14 Mar 2026", False),
        ({"decision": "set aside", "decided_until": None}, "set aside", False),
        ({"decision": "own word", "decided_until": UNTIL}, "own word until 14 Mar 2026", False),
        (
            {"decision": "rest", "decided_until": UNTIL, "decision_state": "date_passed"},
            "back: rest until 14 Mar 2026, that day has passed",
            True,
        ),
        ({"decision": "ease", "decided_until": None, "decision_state": "grown"}, "back: ease, grown since", True),
        ({"decision": "ease", "decided_until": None, "decision_state": "under_decision"}, "ease", False),
    ],
)
def test_where_a_flag_stands(row: dict[str, Any], said: str, waits: bool) -> None:
    assert standing_word(row, EN) == said
    assert is_waiting(row) is waits


def test_questions_come_once_in_a_fixed_order_with_the_regions_named() -> None:
    asked = questions(["load_jump", "overuse_pattern", "body_stiff"], ["lower_back", "", "lead_wrist"], EN)
    where = "Where exactly is it, lead wrist and lower back, and when did it begin? Did it begin with one swing, or slowly?"
    assert asked[0] == where
    assert asked.count(where) == 1
    assert asked[3] == "What changed in the last weeks: practice, equipment, swing, ground, travel, school or work?"
    assert asked[-1] == "Was the big day planned? What comes in the next days, and is there an easy one?"
    assert questions(["body_stiff"], [""], EN)[0].startswith("Where exactly is it, the region,")
    assert questions(["speed_fall"], ["neck"], EN) == []


def test_a_note_for_the_young() -> None:
    row = {"code": "hours_above_age", "value": 15.25, "reference": 14.0}
    assert youth_sentence(row, EN) == "15.2 hours last week, more than the age in years (14)."
    days = {"code": "full_effort_on_consecutive_days", "value": 2.0, "reference": 1.0}
    assert youth_sentence(days, EN).startswith("Full-effort swings on 2 days in a row lately;")


def test_how_many_have_a_problem() -> None:
    row = {
        "week_ending": UNTIL,
        "n_any": 3,
        "n_answered": 12,
        "share_any": 0.25,
        "any_low": 0.089,
        "any_high": 0.532,
        "n_substantial": 1,
    }
    assert plain(prevalence_sentence(row, EN)) == (
        "In the week to 14 Mar 2026, 3 of 12 who sent the form had a problem: 25 % (95 % interval 9 to 53 %); "
        "1 of them substantial."
    )


def test_what_injuries_have_cost() -> None:
    row: dict[str, Any] = {
        "n": 5,
        "hours": 2400.0,
        "incidence": 2.083,
        "incidence_low": 0.676,
        "incidence_high": 4.861,
        "burden": 25.83,
        "burden_low": 8.26,
        "burden_high": 51.67,
    }
    assert plain(burden_sentence(row, EN)) == (
        "5 injuries with absence in 2400 hours over a year: 2.08 in 1000 hours (95 % interval 0.68 to 4.86), "
        "25.8 days of absence in 1000 hours (8.3 to 51.7)."
    )
    assert burden_sentence(row | {"incidence_low": None}, EN) == (
        "5 injuries with absence in 2400 hours over a year: too few players for an interval."
    )
    none = row | {
        "n": 0,
        "incidence": 0.0,
        "incidence_low": 0.0,
        "incidence_high": 1.537,
        "burden_low": None,
        "burden_high": None,
    }
    assert plain(burden_sentence(none, EN)) == (
        "No injury with absence in 2400 hours over a year: 0 in 1000 hours (95 % interval 0 to 1.54)."
    )


@pytest.mark.parametrize(
    "kind", ["body_stiff", "overuse_pattern", "problem_report", "load_jump", "load_flat", "body_fatigue", "answers_fewer"]
)
def test_each_kind_that_asks_has_its_own_questions(kind: str) -> None:
    assert questions([kind], ["neck"], EN) == [line.format(place="neck") for line in EN.lines(f"questions.{kind}")]


def test_of_no_day_with_both_no_number_is_said() -> None:
    """ "Only 0 days with both" stood where nobody has a session."""
    row = {"region": "lower_back", "total": None, "n_pairs": 0, "low": None, "high": None, "p_value": None}
    said = association_sentence(row, Numbers(EN, Units()))
    assert said == "Stiffness of the lower back and load: no day has both yet."
