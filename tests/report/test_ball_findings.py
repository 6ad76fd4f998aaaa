"""Sentences on strokes and transfer: every verdict, in both languages and both units."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from reports.findings.ball import (
    break_even_sentence,
    course_name,
    course_phrase,
    detail_sentence,
    model_sentence,
    moved_sentence,
    split_sentence,
    strike_sentence,
    transfer_sentence,
    verdict,
    worth_sentence,
    worth_told,
)
from reports.numbers import Numbers
from reports.pages import transfer as transfer_page
from reports.pages.context import page_context
from reports.words import LANGUAGES, words
from schemas.academy import Academy, Units

ENGLISH = Numbers(words("en"), Units("mph", "yd"))


def plain(text: str) -> str:
    """With usual spaces and minus signs, so that a test reads like a page."""
    return text.replace("\N{NARROW NO-BREAK SPACE}", " ").replace("\N{MINUS SIGN}", "-")


def row(course: str, chance: float | None, change: float | None = 1.0, **values: Any) -> dict[str, Any]:
    sure = chance is not None and not 0.05 < chance < 0.95
    half = 0.5 if change is None or (abs(change) > 0.5) == sure else 0.5 * abs(change) if sure else 0.5 + abs(change)
    return {
        "player_id": "a",
        "course": course,
        "month_on": date(2026, 9, 1),
        "per_round": 64.0,
        "n_tee_shots": 14,
        "change": change,
        "change_distance": -0.7,
        "change_trouble": None if change is None else change + 0.7,
        "change_low": None if change is None else change - half,
        "change_high": None if change is None else change + half,
        "chance_cost": chance,
        "change_speed_mps": 2.0,
        "change_scatter_deg": 1.9,
        "recent_n": 340,
        "reference_n": 970,
        "reference_from_on": date(2025, 9, 1),
        "reference_to_on": date(2026, 3, 1),
    } | values


FLIP = [row("Alder Wood", 0.99, 1.5), row("open", 0.05, -0.2), row("tree-lined", 1.0, 2.0)]


@pytest.mark.parametrize(("change", "said"), [(None, "none"), (1.0, "costs"), (-1.0, "saves"), (0.3, "open")])
def test_verdict(change: float | None, said: str) -> None:
    row_of = row("open", None if change is None else 0.6) | {
        "change_low": (change or 0) - 0.4,
        "change_high": (change or 0) + 0.4,
    }
    assert verdict(row_of) == said
    assert verdict(None) == "none"


def test_speed_that_pays_in_the_open_and_costs_among_trees() -> None:
    assert plain(worth_sentence(FLIP, ENGLISH)) == (
        "The extra speed pays where there is room and costs where there is trouble: every round it saves 0.2 strokes on "
        "the open course, and costs 1.5 strokes on Alder Wood and 2.0 strokes on the tree-lined course."
    )


@pytest.mark.parametrize(
    ("rows", "begins"),
    [
        ([row("open", 0.02, -0.6), row("tree-lined", 0.5, 0.1)], "The extra speed pays: every round it saves 0.6"),
        ([row("open", 0.97, 0.4), row("tree-lined", 0.99, 2.0)], "The extra speed does not pay"),
        ([row("open", 0.5, 0.0), row("tree-lined", 0.6, 0.2)], "The club is faster, but"),
        ([row("open", 0.5, 0.0, change_speed_mps=0.0)], "No clear change in strokes."),
        ([row("open", 0.02, -0.5, change_speed_mps=-0.1)], "The drives cost less than before"),
        ([row("open", 0.99, 0.5, change_speed_mps=None)], "The drives cost more than before"),
        ([row("open", 0.99, 0.5, change_speed_mps=-1.0), row("tree-lined", 0.01, -1.0)], "It depends on the course"),
        ([row("open", None, None)], "There are no months to compare with"),
        ([row("mine", 0.5, 0.1), row("open", 0.02, -0.6)], "Where it is clear, the extra speed pays: every round it saves 0.6"),
        ([row("mine", 0.5, 0.1), row("open", 0.99, 0.6)], "Where it is clear, the extra speed does not pay: every round it"),
        ([row("mine", 0.5, 0.1, change_speed_mps=0.0), row("open", 0.02, -0.6)], "Where it is clear, the drives cost less"),
        ([row("mine", 0.5, 0.1, change_speed_mps=0.0), row("open", 0.99, 0.6)], "Where it is clear, the drives cost more"),
    ],
)
def test_worth(rows: list[dict[str, Any]], begins: str) -> None:
    assert plain(worth_sentence(rows, ENGLISH)).startswith(begins)


def test_where_it_is_not_clear_is_said_too() -> None:
    home_open = [row("mine", 0.5, 0.1), row("open", 0.02, -0.6), row("tree-lined", 0.6, 0.2)]
    assert plain(worth_sentence(home_open, ENGLISH)).endswith(
        "on the open course. On mine and the tree-lined course it is not clear."
    )
    assert plain(worth_sentence([row("open", 0.02, -0.6), row("mine", 0.5, 0.1)], ENGLISH)).endswith("On mine it is not clear.")
    assert "not clear" not in worth_sentence(FLIP, ENGLISH)


def test_what_has_moved() -> None:
    assert plain(moved_sentence(FLIP[0], ENGLISH)) == (
        "In the last three months with drives, up to September 2026 (340 drives), the club was on average 4.5 mph faster "
        "than from September 2025 to March 2026 "
        "(970 drives), and the drives spread 1.9° wider."
    ).replace("1.9°", plain(ENGLISH.with_unit("angle", 1.9)))
    still = moved_sentence(row("open", 0.5, change_speed_mps=0.1, change_scatter_deg=-0.1), ENGLISH)
    assert "less than 0.7\u202fmph faster or slower" in still
    assert "less than 0.2° wider or narrower" in plain(still)


def test_detail_and_split_name_number_interval_and_parts() -> None:
    assert "the open course saves 0.2 strokes (90 % interval -0.3 to -0.1)" in plain(detail_sentence(FLIP, ENGLISH))
    assert detail_sentence([row("open", None, None)], ENGLISH) == ""
    split = plain(split_sentence(FLIP[2], ENGLISH))
    assert split.endswith("Distance saves 0.7 strokes, trouble costs 2.7 strokes.")
    assert "nothing to compare" in split_sentence(row("open", None, None), ENGLISH)


def test_break_even_says_when_nothing_uses_up_the_gain() -> None:
    even = {"speed_gain_mps": 0.894, "scatter_gain_deg": 0.5, "speed_price_mps": 2.0}
    rows = [even | {"course": "open", "scatter_price_deg": None}, even | {"course": "tree-lined", "scatter_price_deg": 0.2}]
    said = plain(break_even_sentence(rows, ENGLISH))
    assert "2.0 mph more club speed" in said
    assert "more than 20° on the open course" in said
    assert break_even_sentence([], ENGLISH) == ""


def moved_carry(speed: float, **parts: float | None) -> dict[str, Any]:
    months = {"reference_from_on": date(2025, 9, 1), "reference_to_on": date(2025, 11, 1)}
    zero = dict.fromkeys(("strike_m", "speed_ratio_m", "launch_m", "spin_m", "rest_m"), 0.0)
    return {
        "month_on": date(2026, 3, 1),
        "club_speed_mps": 45.0 + speed,
        "reference_club_speed_mps": 45.0,
        "on_offer_m": 5.5 * speed,
        "carry_change_m": 1.0,
        "carry_change_low_m": -2.5,
        "carry_change_high_m": 4.5,
        **months,
        **zero,
        **parts,
    }


def test_what_the_drives_cost_is_told_with_its_month_where_none_have_come_since() -> None:
    rows = [row("open", 0.99, 1.2)]
    assert worth_told(rows, ENGLISH, is_past=False) == worth_sentence(rows, ENGLISH)
    assert worth_told(rows, ENGLISH, is_past=True) == f"As of September 2026: {worth_sentence(rows, ENGLISH)}"
    nothing = [row("open", None, None)]
    assert worth_told(nothing, ENGLISH, is_past=True) == worth_sentence(nothing, ENGLISH)


def test_transfer_names_what_was_lost_largest_first() -> None:
    said = plain(transfer_sentence(moved_carry(2.0, strike_m=-3.0, speed_ratio_m=-6.0, spin_m=-0.5), ENGLISH))
    assert said.startswith("In March 2026 the club was 4.5 mph faster than from September 2025 to November 2025. That alone")
    assert said.endswith("Lost on the way: 6.6 yd by speed ratio and 3.3 yd by strike off the middle.")
    assert "Lost on the way" not in transfer_sentence(moved_carry(2.0), ENGLISH)
    assert "slower" in transfer_sentence(moved_carry(-2.0, strike_m=-3.0), ENGLISH)
    assert "Lost" not in transfer_sentence(moved_carry(-2.0, strike_m=-3.0), ENGLISH)
    assert "was what it was" in transfer_sentence(moved_carry(0.1), ENGLISH)
    assert transfer_sentence(None, ENGLISH) == words("en")("transfer.none")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("units", [Units("mph", "yd"), Units("km/h", "m")])
def test_every_sentence_can_be_said(language: str, units: Units) -> None:
    numbers = Numbers(words(language), units)
    for chances in ((0.99, 0.01), (0.99, 0.99), (0.01, 0.01), (0.5, 0.5), (None, None)):
        for speed in (2.0, -2.0):
            rows = [
                row(c, p, None if p is None else 0.5, change_speed_mps=speed)
                for c, p in zip(("open", "tree-lined"), chances, strict=True)
            ]
            for text in (worth_sentence(rows, numbers), detail_sentence(rows, numbers), split_sentence(rows[0], numbers)):
                assert "{" not in text


STRIKE: dict[str, Any] = {
    "month_on": date(2026, 3, 1),
    "strike_loss": 0.0123,
    "strike_factor": 1.7,
    "strike_factor_error": 0.25,
    "strike_factor_n": 140,
    "strike_factor_source": "own",
}


def test_what_strikes_off_the_middle_took_and_by_which_factor() -> None:
    assert plain(strike_sentence(STRIKE, ENGLISH)) == (
        "In March 2026 strikes off the middle took 1.2 % of ball speed. They cost this player 1.70 (standard error 0.25) times "
        "what they would cost a rigid head: measured on 140 own strikes."
    )
    assert strike_sentence(STRIKE | {"strike_loss": None}, ENGLISH) == ""
    for source in ("too_few", "unclear"):
        assert "1.2 % of ball speed" in plain(strike_sentence(STRIKE | {"strike_factor_source": source}, ENGLISH))


MODELS: dict[str, Any] = {
    "month_on": date(2026, 3, 1),
    "carry_m": 210.0,
    "carry_model_error_m": 1.5,
    "carry_change_model_error_m": 0.4,
}


def test_how_far_the_models_of_flight_differ() -> None:
    assert plain(model_sentence(MODELS, ENGLISH)) == (
        "Carry of March 2026: 229.7 yd. Flown with three published sets of drag and lift it differs by 1.6 yd (standard "
        "deviation); its change differs by 0.4 yd, which its interval holds."
    )
    for name in ("carry_m", "carry_model_error_m", "carry_change_model_error_m"):
        assert model_sentence(MODELS | {name: None}, ENGLISH) == ""


@pytest.mark.parametrize(
    ("language", "distance", "trouble", "ends"),
    [
        ("en", 0.7, -1.2, "Distance costs 0.7 strokes, trouble saves 1.2 strokes."),
        ("en", -0.04, 0.3, "Distance makes next to no difference, trouble costs 0.3 strokes."),
        ("de", 0.7, 1.2, "Länge kostet 0,7 Schläge, Hindernisse kosten 1,2 Schläge."),
        ("de", -0.7, 0.01, "Länge spart 0,7 Schläge, Hindernisse machen fast keinen Unterschied."),
    ],
)
def test_what_costs_nothing_is_not_said_to_cost_and_two_things_take_a_plural(
    language: str, distance: float, trouble: float, ends: str
) -> None:
    one = row("open", 0.99, 1.5, change_distance=distance) | {"change_trouble": trouble}
    assert plain(split_sentence(one, Numbers(words(language), Units()))).endswith(ends)


def test_a_course_that_stands_by_itself_has_its_plain_name() -> None:
    german = words("de")
    assert [course_name(course, german) for course in ("open", "tree-lined", "Erlenholz")] == [
        "der offene Platz",
        "der Platz zwischen Bäumen",
        "Erlenholz",
    ]
    assert course_phrase("open", german) == "dem offenen Platz"  # stands after "auf" in sentences


def test_balls_whose_flight_beside_the_reference_ball_is_not_known_are_marked() -> None:
    """A range ball without a factor was said to be restated for the reference ball."""
    context = page_context(Academy("Academy", "UTC"), "coach", date(2026, 6, 30))
    months = [{"month_on": date(2026, month, 1), "is_factor_known": month != 6} for month in (5, 6)]
    assert transfer_page._unknown_ball(months, context).startswith(
        "Of some of these balls it was not known in June 2026 how far they fly"
    )
    assert transfer_page._unknown_ball(months[:1], context) == ""
