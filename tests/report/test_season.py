"""The season in one sentence."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import pytest

from reports.findings.season import flags_phrase, season_sentence
from reports.numbers import Numbers
from reports.story import Story
from reports.words import words
from schemas.academy import Units

EN = words("en")
NUMBERS = Numbers(EN, Units())


NOW: dict[str, Any] = {"level": 45.0, "on_date": dt.date(2026, 9, 28)}


def then(level: float, day: dt.date, *, lasts: bool = True) -> dict[str, Any]:
    change = 100 * math.log(NOW["level"] / level)
    return {"then_level": level, "then_on": day, "change": change, "lasts": lasts}


@pytest.mark.parametrize(
    ("before", "begins"),  # 96.2, 105.1 and 100.7 mph are printed: what is told of them adds up as it is read
    [
        (then(43.0, dt.date(2025, 9, 20)), "Lark has gained 4.5"),
        (then(47.0, dt.date(2025, 9, 20)), "Lark has lost 4.4"),
        (then(44.9, dt.date(2025, 9, 20), lasts=False), "Lark swings the driver at 100.7\u202fmph, neither clearly faster nor"),
        (then(43.0, dt.date(2026, 8, 20)), ""),
        (None, ""),
    ],
)
def test_speed_then_and_now(before: dict[str, Any] | None, begins: str) -> None:
    said = season_sentence("Lark", Story(NOW, before, None, ()), "coach", NUMBERS)
    assert said.startswith(begins)
    assert bool(said) == bool(begins)


@pytest.mark.parametrize(
    ("interval", "says"),
    [
        ((0.1, 2.3), "on the open course the drives now cost 1.2"),
        ((-2.3, -0.1), "1.2 strokes a round less"),
        ((-0.4, 2.8), "is not clear"),
        (None, "; no flag"),
    ],
)
def test_what_it_costs(interval: tuple[float, float] | None, says: str) -> None:
    low, high = interval or (None, None)
    cost = {"chance_cost": interval and 0.9, "change": 1.2, "change_low": low, "change_high": high, "course": "open"}
    assert says in season_sentence("Lark", Story(NOW, then(43.0, dt.date(2025, 9, 20)), cost, ()), "coach", NUMBERS)


def test_no_open_flag_is_said_in_words() -> None:
    told = [flags_phrase(n, "coach", EN) for n in (0, 1, 2)]
    assert told == ["no flag for the coach is open", "1 flag for the coach is open", "2 flags for the coach are open"]


def test_open_flags_are_those_of_a_reader_who_is_named() -> None:
    assert flags_phrase(0, "physio", EN) == "no flag for the physio is open"
    assert flags_phrase(1, "physio", words("de")) == "1 Hinweis für den Physio ist offen"
