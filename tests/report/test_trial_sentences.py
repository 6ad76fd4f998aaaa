"""Sentences of trials, word by word, at and beside their limits."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

import polars as pl
import pytest

from reports.findings.trial_text import trial_lines
from reports.findings.trials import (
    arm_name,
    change,
    cost_sentence,
    course_name,
    else_sentences,
    next_steps,
    plain_sentence,
    scatter_ratio,
    scatter_sentence,
    side_words,
    since_sentence,
    speed_change,
    statement,
    strokes_change,
    title_of,
    verdict_sentence,
    with_end,
    word_key,
)
from reports.numbers import Numbers
from reports.words import MINUS, NARROW_SPACE, words
from schemas.academy import Units

EN = words("en")
NUMBERS = Numbers(EN, Units("m/s", "m"))


def plain(text: str) -> str:
    return text.replace(NARROW_SPACE, " ")


ROW: dict[str, Any] = {
    "trial_id": "t1",
    "question": "wider stance",
    "state": "verdict",
    "verdict": "keep",
    "reason": "speed_gained",
    "home_course": "open",
    "n_shots": 80,
    "body_side": "",
    "best_arm": "wider",
    "normal_arm": "normal",
    "speed_side": "better",
    "strokes_side": "open",
    "scatter_side": "same",
    "more_for_speed": None,
    "more_for_scatter": None,
    "value_of_more": None,
    "notes": [],
    "statements": [],
    "ended_on": None,
    "end_rule": None,
}
ARM: dict[str, Any] = {
    "arm": "wider",
    "is_normal": False,
    "left_right_ratio": 1.1,
    "left_right_low": 0.9,
    "left_right_high": 1.35,
    "left_right_wider": 0.3,
    "left_right_worthwhile": 1.16,
}
EFFECT: dict[str, Any] = {
    "arm": "wider",
    "metric": "club_speed_mps",
    "mean": 1.0,
    "low": 0.4,
    "high": 1.6,
    "level": 50.0,
    "more": 0.95,
    "less": 0.0,
    "is_delivery": False,
}
STROKES: dict[str, Any] = {
    "arm": "wider",
    "course": "open",
    "mean": -0.6,
    "low": -1.1,
    "high": -0.1,
    "better": 0.96,
    "worse": 0.0,
}


def test_names() -> None:
    assert word_key(ROW | {"verdict": "go back"}) == "go_back"
    assert word_key(ROW | {"state": "planned"}) == "planned"
    assert title_of(ROW, EN) == "Wider stance"
    assert title_of(ROW | {"question": ""}, EN) == "Trial t1"
    assert course_name("tree-lined", EN) == "tree-lined"
    assert course_name("Links", EN) == "Links"
    assert [
        arm_name({"arm": name, "is_normal": normal}, EN) for name, normal in (("Normal", True), ("A", True), ("normal", False))
    ] == [
        "Normal",
        "A (normal)",
        "normal",
    ]


def test_speed_is_said_in_unit_per_cent_and_interval() -> None:
    assert plain(speed_change(EFFECT, NUMBERS)) == "+1.0 m/s (+2.0 %; 90 % interval +0.4 to +1.6 m/s)"
    faster = speed_change(EFFECT | {"mean": 2.0, "level": 40.0}, NUMBERS)
    assert plain(faster) == "+2.0 m/s (+5.0 %; 90 % interval +0.4 to +1.6 m/s)"
    assert speed_change(None, NUMBERS) == NUMBERS.bare("speed", None)


def test_scatter_is_said_as_a_ratio() -> None:
    assert plain(scatter_ratio(ARM, NUMBERS)) == "1.10 times normal (0.90 to 1.35)"
    assert scatter_ratio(ARM | {"left_right_ratio": None}, NUMBERS) == NUMBERS.bare("ratio", None)


@pytest.mark.parametrize(
    ("wider", "said"),
    [
        (0.91, "Wider: left-right scatter 1.10 times normal (0.90 to 1.35), so wider."),
        (0.90, "Wider: left-right scatter 1.10 times normal (0.90 to 1.35); these shots cannot rule out a change that matters."),
        (0.10, "Wider: left-right scatter 1.10 times normal (0.90 to 1.35); these shots cannot rule out a change that matters."),
        (0.09, "Wider: left-right scatter 1.10 times normal (0.90 to 1.35); wider by what matters (1.16 times) is unlikely."),
    ],
)
def test_scatter_of_an_arm(wider: float, said: str) -> None:
    assert plain(scatter_sentence(ARM | {"left_right_wider": wider}, NUMBERS)) == said


def test_the_verdict_with_every_value_in_it() -> None:
    said = plain(verdict_sentence(ROW, ARM, EFFECT, STROKES, NUMBERS))
    assert said == (
        "Keep: “wider” gains club speed, +1.0 m/s (+2.0 %; 90 % interval +0.4 to +1.6 m/s); "
        "strokes on the open course do not speak "
        f"against it: {strokes_change(STROKES, NUMBERS)}."
    )
    assert plain(strokes_change(STROKES, NUMBERS)).startswith(f"{MINUS}0.6 strokes a round (")
    lost = verdict_sentence(ROW | {"reason": "strokes_lost"}, ARM, EFFECT, STROKES | {"mean": 0.6}, NUMBERS)
    assert "Go back: “wider” costs 0.6 strokes a round" in plain(lost)
    assert "more than normal on the open course, although club speed is up +1.0 m/s" in plain(lost)
    unsure = verdict_sentence(ROW | {"reason": "strokes_lost"}, ARM, EFFECT | {"more": 0.9}, STROKES | {"mean": 0.6}, NUMBERS)
    assert "although" not in unsure
    unclear = verdict_sentence(ROW | {"reason": "price_unclear"}, ARM, EFFECT, STROKES, NUMBERS)
    assert "left-right scatter 1.10 times normal" in plain(unclear)
    unknown = verdict_sentence(ROW | {"reason": "price_unclear"}, ARM, EFFECT, None, NUMBERS)
    assert "without carry and direction nobody can say" in unknown
    assert "from 80 shots:" in verdict_sentence(ROW | {"reason": "not_clear_yet"}, ARM, EFFECT, None, NUMBERS)


def test_without_a_verdict_the_gravest_reason_is_said() -> None:
    row = ROW | {"state": "statement", "statements": ["one_arm", "no_speed"]}
    assert verdict_sentence(row, ARM, EFFECT, STROKES, NUMBERS).startswith("No verdict: all shots belong to one arm")
    assert plain_sentence(row, ARM, EFFECT, STROKES, NUMBERS).startswith("These shots cannot give a fair answer: all shots")
    assert verdict_sentence(ROW, None, EFFECT, STROKES, NUMBERS) == "No verdict: "
    assert statement({"statements": ["own words"]}, EN) == "own words"
    assert statement({"statements": []}, EN) == ""
    planned = ROW | {"state": "planned"}
    assert verdict_sentence(planned, None, None, None, NUMBERS) == "Planned, and no shot has come in yet."
    assert plain_sentence(planned, None, None, None, NUMBERS) == "This trial is planned. Take the shot sheet to the range."


FASTER = (
    "Keep it. With “wider” you swing 1.0 m/s faster, and your shots land no worse than before, as far as these shots can tell."
)
WIDER = (
    "Go back to your normal swing. With “wider” you would need about 0.6 more shots a round on the open course, because the ball "
    "goes wider."
)
TALK = "You are faster with “wider”. Talk to your coach or physio about how you feel before you keep it."
AGAIN = "Looks good, but one day is not enough. Try it on a second day."


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, FASTER),
        ({"reason": "strokes_lost", "verdict": "go back"}, WIDER),
        ({"body_side": "ask"}, TALK),
        ({"verdict": "keep testing", "reason": "second_day", "body_side": "ask"}, AGAIN),
    ],
)
def test_the_verdict_for_the_player(changed: dict[str, Any], said: str) -> None:
    assert plain(plain_sentence(ROW | changed, ARM, EFFECT | {"mean": -1.0}, STROKES, NUMBERS)) == said
    assert plain_sentence(ROW | {"reason": "price_unclear"}, ARM, None, None, NUMBERS).endswith("so keep testing.")


@pytest.mark.parametrize(
    ("sides", "said", "plainly"),
    [
        (("better", "open"), "“wider” gains club speed, ", "Looks good"),
        (("worse", "open"), "“wider” loses club speed, ", "You were slower"),
        (("open", "better"), "“wider” saves strokes on ", "Looks good"),
    ],
)
def test_what_was_seen_on_one_day_is_a_gain_only_where_it_is_one(sides: tuple[str, str], said: str, plainly: str) -> None:
    row = ROW | {"verdict": "keep testing", "reason": "second_day", "speed_side": sides[0], "strokes_side": sides[1]}
    assert f"Keep testing: {said}" in plain(verdict_sentence(row, ARM, EFFECT, STROKES, NUMBERS))
    assert plain_sentence(row, ARM, EFFECT, STROKES, NUMBERS).startswith(plainly)
    ended = row | {"ended_on": dt.date(2026, 6, 3), "end_rule": "stopped"}
    assert "on one day only" in verdict_sentence(ended, ARM, EFFECT, STROKES, NUMBERS)


def test_sides_stand_beside_each_other_and_the_body_only_where_it_is_known() -> None:
    three = [("Speed", "better"), ("Strokes", "not clear yet"), ("Scatter", "not wider by what matters")]
    assert side_words(ROW, EFFECT, None, EN) == three
    assert side_words(ROW | {"body_side": "calm"}, EFFECT, None, EN) == [*three, ("Load and body", "nothing to ask")]
    assert side_words(ROW | {"state": "planned"}, EFFECT, None, EN) == []


def delivery(metric: str, more: float, less: float = 0.0) -> dict[str, Any]:
    return EFFECT | {"metric": metric, "is_delivery": True, "more": more, "less": less, "mean": 2.0, "low": 1.0, "high": 3.0}


def test_whether_only_one_thing_changed() -> None:
    assert else_sentences([EFFECT], NUMBERS) == ["Swing and strike were not measured on enough shots to say."]
    quiet = delivery("path_deg", 0.05, 0.05)
    assert else_sentences([EFFECT | {"more": 0.99}, quiet], NUMBERS) == [EN("trial.else_section.none")]
    moved = else_sentences(
        [EFFECT, delivery("attack_deg", 0.5, 0.45), delivery("path_deg", 0.9), delivery("path_deg", 0.3), quiet], NUMBERS
    )
    assert plain(moved[0]).startswith("No: attack (wider: +2.0°")
    assert moved[1] == "Path: these shots cannot rule out a change that matters."
    assert len(moved) == 2


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, "Wider saves 0.6 strokes a round"),
        ({"high": 0.0}, "Wider is not clearly better or worse on the open course"),
        ({"better": 0.9}, "Wider saves 0.6 strokes a round (0.1 to 1.1) on the open course, not clearly"),
        ({"better": 0.0, "worse": 0.95, "mean": 0.6, "low": 0.1, "high": 1.0}, "Wider costs 0.6 strokes a round"),
        (
            {"better": 0.0, "worse": 0.95, "mean": 0.6, "low": 0.0, "high": 1.0},
            "Wider is not clearly better or worse on the open course",
        ),
        ({"better": 0.04, "worse": 0.04}, "Wider neither costs nor saves strokes that matter on the open course"),
        ({"better": 0.06, "worse": 0.06}, "Wider saves 0.6 strokes a round (0.1 to 1.1) on the open course"),
    ],
)
def test_the_price_on_a_course(changed: dict[str, Any], said: str) -> None:
    assert plain(cost_sentence(STROKES | changed, NUMBERS)).startswith(said)


def test_the_normal_swing_since() -> None:
    row = {"metric": "club_speed_mps", "state": "back", "normal_until": dt.date(2026, 3, 14)}
    wide = row | {"metric": "log_mad_offline_m".replace("log_mad_", "") + "_log_mad", "state": "not_clear"}
    assert since_sentence([], EN) == EN("trial.since_section.none")
    assert since_sentence([row], EN) == EN("trial.since_section.back", day="14 March 2026")
    assert (
        since_sentence([row, wide], EN)
        == "Not shown yet: left-right scatter may still lie outside what was normal before 14 March 2026."
    )
    assert since_sentence([wide, row | {"state": "not_back"}], EN) == (
        "No: club speed of the normal swing lies outside what was normal before 14 March 2026."
    )


STEP = "trial.next_section"
OPEN = ROW | {"verdict": "keep testing", "reason": "not_clear_yet"}


@pytest.mark.parametrize(
    ("row", "keys"),
    [
        (ROW | {"state": "planned"}, ["planned"]),
        (ROW | {"state": "statement", "statements": ["one_arm"]}, ["statement", "mix"]),
        (ROW | {"state": "statement", "statements": ["arms_apart"]}, ["statement", "mix"]),
        (ROW | {"body_side": "ask"}, ["body", "keep"]),
        (ROW, ["keep", "body"]),
        (ROW | {"body_side": "calm"}, ["keep"]),
        (ROW | {"verdict": "go back"}, ["go_back"]),
        (OPEN, []),
        (OPEN | {"reason": "second_day"}, ["second_day"]),
        (OPEN | {"reason": "body_first", "body_side": "ask"}, ["body"]),
        (OPEN | {"reason": "no_difference", "more_for_scatter": 30}, ["no_difference"]),
        (OPEN | {"body_side": "ask"}, ["body"]),
        (OPEN | {"more_for_speed": 40, "more_for_scatter": 60, "scatter_side": "open"}, ["speed", "scatter"]),
        (OPEN | {"more_for_speed": 40, "more_for_scatter": 60, "scatter_side": "same"}, ["speed"]),
        (OPEN | {"notes": ["one_day"]}, ["second_day"]),
        (OPEN | {"notes": ["one_day"], "reason": "no_difference"}, ["no_difference"]),
        (OPEN | {"notes": ["same_order"]}, ["other_order"]),
        (OPEN | {"value_of_more": 0.009}, ["worth_nothing"]),
        (OPEN | {"value_of_more": 0.01}, ["worth"]),
        (OPEN | {"notes": ["not_random"]}, ["mix"]),
        (OPEN | {"notes": ["warm_up_counted"]}, ["mix"]),
        (OPEN | {"notes": ["few_blocks"]}, []),
    ],
)
def test_what_to_do_next(row: dict[str, Any], keys: list[str]) -> None:
    n = {"speed": row["more_for_speed"], "scatter": row["more_for_scatter"]}
    amount = f"{row['value_of_more'] or 0:.2f}"
    wanted = [EN(f"{STEP}.{key}", arm="wider", normal="normal", n=n.get(key), amount=amount) for key in keys]
    assert next_steps(row, EN) == wanted


ENDED = ROW | {"ended_on": dt.date(2026, 3, 14), "end_rule": "stopped"}
ENDED_OPEN = ENDED | {"verdict": "keep testing", "reason": "not_clear_yet"}
OPEN_TOLD = "The trial was ended before it could tell. A few shots cannot tell luck from a real gain."


@pytest.mark.parametrize(
    ("row", "called", "keys", "told"),
    [
        (ENDED, "keep", ["keep", "body"], FASTER),
        (ENDED | {"body_side": "ask"}, "keep", ["body", "keep"], TALK),
        (ENDED | {"verdict": "go back", "reason": "strokes_lost"}, "go_back", ["go_back"], WIDER),
        (ENDED_OPEN, "ended_open", ["ended_open"], OPEN_TOLD),
        (ENDED_OPEN | {"body_side": "ask"}, "ended_open", ["body", "ended_open"], OPEN_TOLD),
        (
            ENDED_OPEN | {"reason": "no_difference"},
            "ended_same",
            ["ended_open"],
            "No difference that matters between “wider” and your normal swing.",
        ),
    ],
)
def test_a_trial_that_was_ended_says_what_stays_and_that_nothing_more_counts(
    row: dict[str, Any], called: str, keys: list[str], told: str
) -> None:
    wanted = [EN(f"{STEP}.{key}", arm="wider", normal="normal") for key in keys]
    assert next_steps(row, EN) == [*wanted, EN(f"{STEP}.ended", day="14 March 2026")]
    assert word_key(row) == called
    assert plain(plain_sentence(row, ARM, EFFECT, STROKES, NUMBERS)) == told
    said = verdict_sentence(row, ARM, EFFECT, STROKES, NUMBERS)
    assert said.startswith("Ended ") == (row["verdict"] == "keep testing")
    assert with_end(said, row, EN) == f"Ended on 14 March 2026: stopped before the sheet was full. {said}"
    assert with_end(said, ROW, EN) == said


class TrialMarts:
    """The marts of one trial that was tried, and of one that is only planned, as far as its lines read them."""

    frames: ClassVar = {
        "result": [
            ROW | {"notes": ["one_day"], "body_side": "ask"},
            ROW | {"trial_id": "t2", "state": "planned", "notes": ["one_day"]},
        ],
        "arm": [
            ARM | {"trial_id": "t1", "amount": 2.0},
            ARM | {"trial_id": "t1", "amount": 1.0, "arm": "wide", "left_right_wider": 0.95},
            ARM | {"trial_id": "t1", "amount": 0.0, "arm": "normal", "left_right_ratio": None},
            ARM | {"trial_id": "t3", "amount": 0.0},
        ],
        "effect": [EFFECT | {"trial_id": "t1", "metric": "carry_m", "mean": 9.0}, EFFECT | {"trial_id": "t1"}],
        "strokes": [
            STROKES | {"trial_id": "t1", "course": "tree-lined", "is_home": False, "mean": -2.0, "better": 0.5},
            STROKES | {"trial_id": "t1", "is_home": True},
        ],
        "since": [{"trial_id": "t1", "metric": "club_speed_mps", "state": "back", "normal_until": dt.date(2026, 3, 14)}],
    }

    def rows(self, mart: str) -> pl.DataFrame:
        return pl.DataFrame(self.frames[mart.removeprefix("mart_trial_")], infer_schema_length=None)


def test_one_trial_as_lines_of_text_without_the_body() -> None:
    marts: Any = TrialMarts()
    arms, strokes = marts.frames["arm"], marts.frames["strokes"]
    sides = (
        ("trial.speed", "trial.side.better"),
        ("trial.strokes", "trial.side.less"),
        ("trial.scatter", "trial.scatter_side.same"),
    )
    assert trial_lines(marts, NUMBERS, "t1") == [
        "Wider stance",
        verdict_sentence(ROW, ARM, EFFECT, STROKES, NUMBERS),
        *(f"{EN(name)}: {EN(word)}" for name, word in sides),
        scatter_sentence(arms[1], NUMBERS),
        scatter_sentence(arms[0], NUMBERS),
        cost_sentence(strokes[0], NUMBERS),
        cost_sentence(strokes[1], NUMBERS),
        *else_sentences(marts.frames["effect"], NUMBERS),
        since_sentence(marts.frames["since"], EN),
        EN("trial.note_text.one_day"),
        *next_steps(ROW | {"notes": ["one_day"]}, EN),
    ]
    assert trial_lines(marts, NUMBERS, "t2") == [
        "Wider stance",
        EN("trial.planned_lead"),
        *next_steps(ROW | {"state": "planned"}, EN),
    ]
    assert trial_lines(marts, NUMBERS, "t4") == []


def test_a_change_is_told_with_both_ends_of_its_interval() -> None:
    told = plain(change({"metric": "club_speed_mps", "mean": 1.0, "low": 0.4, "high": 1.6}, NUMBERS))
    assert ["0.4" in told, "1.0" in told, "1.6" in told] == [True, True, True], told
