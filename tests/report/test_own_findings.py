"""The player's own page in sentences: left and right, good things first, the physio's wish, one thing to try."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from reports.findings.own import (
    body_sentences,
    good_sentences,
    growth_sentence,
    own_region,
    returning_sentence,
    strokes_good,
    tried_sentence,
    try_sentence,
)
from reports.numbers import Numbers
from reports.pages.context import page_context
from reports.pages.player_flags import OWN_KINDS, _open
from reports.story import Story
from reports.words import words
from schemas.academy import Units
from tests.report.conftest import LAST_ON, academy, flags

EN, DE = words("en"), words("de")
NUMBERS = Numbers(EN, Units())


def flag(kind: str, **values: Any) -> dict[str, Any]:
    told = flags()[0] | {"kind": kind, "level": "alert", "decision": None, "decision_state": None, "region": ""}
    return told | values


@pytest.mark.parametrize(
    ("region", "handed", "english", "german"),
    [
        ("lead_hip", "right", "left hip", "linke Hüfte"),
        ("trail_hip", "right", "right hip", "rechte Hüfte"),
        ("lead_wrist", "left", "right wrist", "rechtes Handgelenk"),
        ("trail_elbow", "left", "left elbow", "linker Ellbogen"),
        ("lead_knee", None, "front knee", "vorderes Knie"),
        ("lower_back", "left", "lower back", "unterer Rücken"),
    ],
)
def test_a_place_is_left_or_right(region: str, handed: str | None, english: str, german: str) -> None:
    assert own_region(region, handed, EN) == english
    assert own_region(region, handed, DE) == german


def told(now: float, *, lasts: bool = True) -> Story:
    then = {"then_level": 45.0, "then_on": dt.date(2025, 9, 30), "lasts": lasts, "change": now - 45.0}
    return Story({"level": now}, then, None, ())


@pytest.mark.parametrize(
    ("story", "said"),
    [(told(46.0), True), (told(45.2), False), (told(44.0), False), (told(46.0, lasts=False), False)],
)
def test_growth_is_told_when_it_lasts_and_can_be_felt(story: Story, said: bool) -> None:
    text = growth_sentence(story, NUMBERS)
    assert text.startswith("You have gained 2.2\N{NARROW NO-BREAK SPACE}mph since September 2025: from") if said else text == ""
    assert growth_sentence(Story(None, None, None, ()), NUMBERS) == ""


def test_what_goes_well_comes_from_what_is_known() -> None:
    assert good_sentences([], [], 0, NUMBERS) == [
        "It is good to have you here. More will show here after a few days of practice."
    ]
    assert good_sentences(["A.", ""], [flag("speed_rise"), flag("quiet")], 9, NUMBERS) == [
        "A.",
        "You swing faster than you did before (driver).",
        "You practised on 9 days in the last four weeks. Keep at it.",
    ]
    assert good_sentences(["A."], [flag("speed_rise") | {"level": "notice"}], 0, NUMBERS) == ["A."]
    saves = {"chance_cost": 0.02, "change": -0.42, "change_low": -0.8, "change_high": -0.1, "course": "open"}
    story = Story(None, None, saves, ())
    assert strokes_good(story, NUMBERS) == "Your drives save you about 0.4 shots a round on the open course."
    assert strokes_good(replace(story, strokes=saves | {"change_high": 0.1}), NUMBERS) == ""
    assert strokes_good(replace(story, strokes=None), NUMBERS) == ""
    assert strokes_good(replace(story, speed={"is_past": True}), NUMBERS) == "", "it is not so any more, as far as is known"


def test_the_body_is_told_to_the_player_and_the_physios_wish_first() -> None:
    assert body_sentences([flag("speed_fall")], "right", NUMBERS) == []
    stiff = flag("body_stiff", region="lead_hip", value=6.0)
    assert body_sentences([stiff], "right", NUMBERS) == [
        "You said that your left hip is more stiff than on most days: 6.0 of 10.",
        "Please tell your physio about it. You can stop and rest at any time.",
    ]
    nowhere = flag("body_stiff", value=None, now_value=None)
    assert body_sentences([nowhere], "right", NUMBERS)[0] == "You said that you are more stiff than on most days."
    assert body_sentences([flag("problem_report")], "right", NUMBERS)[0].endswith("that something bothers you.")
    wish = body_sentences([stiff | {"decision": "rest", "decision_state": "under_decision"}], "right", NUMBERS)
    assert wish[0].startswith("Your physio would like to talk with you")
    assert len(wish) == 2
    over = body_sentences([stiff | {"decision": "rest", "decision_state": "date_passed"}], "right", NUMBERS)
    assert not over[0].startswith("Your physio")


@pytest.mark.parametrize("kind", ["body_stiff", "body_fatigue", "problem_report", "overuse_pattern"])
@pytest.mark.parametrize("region", ["", "neck", "trail_shoulder"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_every_sign_of_the_body_has_a_sentence(kind: str, region: str, language: str) -> None:
    for value in (None, 4.0):
        for metric in ("fatigue", "sleep_h", "stress"):
            row = flag(kind, region=region, value=value, metric=metric)
            assert "{" not in body_sentences([row], "right", Numbers(words(language), Units()))[0]


def test_there_is_one_thing_to_try_and_the_body_comes_before_speed() -> None:
    worse = flag("strokes_worse", value=3.0, baseline=0.0)
    assert try_sentence([flag("load_flat"), worse], EN) == EN("own.try.strokes_worse")
    assert try_sentence([worse, flag("body_stiff", region="neck")], EN) == EN("own.try.body")
    assert try_sentence([flag("speed_rise")], EN) == EN("own.try.nothing")


@pytest.mark.parametrize(
    ("kind", "goes_on"), [("load_jump", False), ("body_stiff", False), ("overuse_pattern", False), ("speed_fall", True)]
)
def test_nobody_who_is_asked_to_do_less_is_told_to_keep_at_it(kind: str, goes_on: bool) -> None:
    said = good_sentences([], [flag(kind)], 9, NUMBERS)
    assert said[0].startswith("You practised on 9 days in the last four weeks.")
    assert said[0].endswith("Keep at it.") is goes_on
    assert ("easy" in try_sentence([flag(kind)], EN)) is not goes_on


def test_a_player_reads_of_swing_ball_and_practice_and_not_of_the_body() -> None:
    """What the map of the own page shows, its flags tell too; what is of the body is talked over with the physio."""
    assert {"speed_cost", "strokes_worse", "strokes_better", "wild_rise", "load_jump"} <= OWN_KINDS
    assert OWN_KINDS.isdisjoint(
        {"body_stiff", "body_fatigue", "answers_fewer", "problem_report", "overuse_pattern", "device_shift", "quiet"}
    )


def test_the_own_page_tells_nothing_of_flags_that_others_read() -> None:
    assert "no flag for" not in _open([], page_context(academy(), "player", LAST_ON))
    assert "no flag for the coach is open" in _open([], page_context(academy(), "coach", LAST_ON))


def test_a_gain_with_the_irons_is_not_said_of_the_driver() -> None:
    """The driver may stand still while the irons are faster: the sentence stood beside "too early to say"."""
    assert good_sentences([], [flag("speed_rise", club_group="iron")], 0, NUMBERS) == [
        "You swing faster than you did before (irons)."
    ]
    german = Numbers(DE, Units())
    assert good_sentences([], [flag("scatter_fall", club_group="iron")], 0, german) == [
        "Deine Bälle liegen enger beisammen als vorher (Eisen)."
    ]


TRIAL = {"state": "verdict", "verdict": "go back", "best_arm": "wider", "body_side": ""}


@pytest.mark.parametrize(
    ("changes", "begins"),
    [
        ({}, "Go back to your normal swing"),
        ({"verdict": "keep"}, "Keep “wider”"),
        ({"verdict": "keep", "body_side": "ask"}, ""),
        ({"verdict": "keep testing"}, ""),
        ({"state": "statement"}, ""),
    ],
)
def test_what_a_trial_settled_is_the_thing_to_try(changes: dict[str, Any], begins: str) -> None:
    """The letter said to keep going, and the trial below it to go back."""
    said = tried_sentence(TRIAL | changes, EN)
    assert said.startswith(begins)
    assert bool(said) == bool(begins)
    assert tried_sentence(None, EN) == ""


def test_after_a_break_speed_that_is_not_back_wants_time() -> None:
    row = {"metric": "club_speed_mps", "state": "not_back", "cause": "break"}
    assert returning_sentence([row], EN).startswith("You are coming back after a break.")
    others = [row | {"state": "back"}, row | {"cause": "technique"}, row | {"metric": "aim_deg"}]
    assert [returning_sentence([other], EN) for other in others] == ["", "", ""]


def test_easy_days_come_before_what_a_trial_settled() -> None:
    told = [try_sentence([flag(kind)], EN, instead="Go back.") for kind in ("speed_fall", "load_jump", "body_stiff")]
    assert told == ["Go back.", EN("own.try.load_jump"), EN("own.try.body")]
    assert try_sentence([], EN, "own.try.nothing_seldom") == "Keep doing what you do."
