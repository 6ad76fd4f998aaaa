"""What happens within a session, as sentences: said where it is clear, and how much stands behind it where it is not."""

from __future__ import annotations

from typing import Any

import pytest

from reports.findings.sessions import own_practice_sentence, practice_sentence, tiring_sentence, warming_sentence
from reports.numbers import Numbers
from reports.words import LANGUAGES, words
from schemas.academy import Units

ROW: dict[str, Any] = {
    "n_sessions": 24, "n_balls": 900, "n_early_balls": 110, "cold_pct": -2.4, "cold_low_pct": -3.0, "cold_high_pct": -1.8,
    "full_from_ball": 9, "tired_from_ball": 40, "n_late_balls": 120, "tired_pct": -0.6, "tired_low_pct": -0.9,
    "tired_high_pct": -0.3,
}  # fmt: skip


def said(**changes: Any) -> tuple[str, str, str]:
    numbers, row = Numbers(words("en"), Units()), {**ROW, **changes}
    return warming_sentence(row, numbers), tiring_sentence(row, numbers), practice_sentence(row, numbers)


def test_what_is_clear_is_said_with_interval_and_n() -> None:
    warming, tiring, practice = said()
    assert "2.4" in warming
    assert "900 drives in 24 sessions" in warming
    assert "from about ball 9 on" in warming
    assert "Beyond ball 40 speed falls by 0.6" in tiring
    assert practice == "To read speed, use balls 9 to 40 of a session."


@pytest.mark.parametrize(
    ("changes", "warming", "tiring", "practice"),
    [
        ({"full_from_ball": None, "cold_high_pct": 0.1}, "No clear cold start", "speed falls", "up to 40"),
        ({"full_from_ball": None}, "slower, but not clearly by enough", "speed falls", "up to 40"),
        ({"tired_pct": -0.1, "tired_high_pct": -0.05}, "slower", "falls, but not by enough", "from 9 on"),
        ({"tired_high_pct": 0.1}, "slower", "no clear fall", "from 9 on"),
        ({"tired_pct": None, "n_late_balls": 12}, "slower", "cannot be told: 12 drives", "from 9 on"),
        ({"cold_pct": None, "full_from_ball": None, "n_early_balls": 3}, "cannot be told: 3 drives", "speed falls", "up to 40"),
        ({"full_from_ball": None, "cold_high_pct": 0.1, "tired_high_pct": 0.1}, "No clear", "no clear", ""),
    ],
)
def test_what_is_not_clear_is_not_said(changes: dict[str, Any], warming: str, tiring: str, practice: str) -> None:
    found = said(**changes)
    assert warming in found[0]
    assert tiring in found[1]
    assert practice in found[2]
    assert bool(practice) == bool(found[2])


def test_every_sentence_stands_in_every_language() -> None:
    for language in LANGUAGES:
        numbers = Numbers(words(language), Units())
        assert all(say(ROW, numbers) for say in (warming_sentence, tiring_sentence, practice_sentence, own_practice_sentence))


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, "warm up with about 8 balls. Your speed drops after about ball 40"),
        ({"tired_high_pct": 0.1}, "warm up with about 8 balls before you go for speed"),
        ({"full_from_ball": None}, "Your speed drops after about ball 40: stop there"),
        ({"full_from_ball": 1, "tired_pct": None}, ""),
        ({"full_from_ball": None, "tired_high_pct": 0.1}, ""),
    ],
)
def test_the_player_reads_how_many_balls_to_warm_up_with_and_where_to_stop(changes: dict[str, Any], expected: str) -> None:
    said = own_practice_sentence({**ROW, **changes}, Numbers(words("en"), Units()))
    assert expected in said
    assert bool(said) == bool(expected)
