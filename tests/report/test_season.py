"""The season in one sentence."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from reports.findings.season import flags_phrase, season_sentence
from reports.numbers import Numbers
from reports.words import words
from schemas.academy import Units

EN = words("en")
NUMBERS = Numbers(EN, Units())


def level(value: float, day: dt.date) -> dict[str, Any]:
    return {"level": value, "level_low": value - 0.3, "level_high": value + 0.3, "on_date": day}


NOW = level(45.0, dt.date(2026, 9, 28))


@pytest.mark.parametrize(
    ("then", "begins"),
    [
        (level(43.0, dt.date(2025, 9, 20)), "Lark has gained 4.5"),
        (level(47.0, dt.date(2025, 9, 20)), "Lark has lost 4.5"),
        (level(44.9, dt.date(2025, 9, 20)), "Lark swings the driver as fast as in September 2025"),
        (level(43.0, dt.date(2026, 8, 20)), ""),
        (None, ""),
    ],
)
def test_speed_then_and_now(then: dict[str, Any] | None, begins: str) -> None:
    said = season_sentence("Lark", then, NOW, None, 0, NUMBERS)
    assert said.startswith(begins)
    assert bool(said) == bool(begins)


@pytest.mark.parametrize(
    ("chance", "says"),
    [
        (0.95, "on the open course the drives now cost 1.2"),
        (0.05, "1.2 strokes a round less"),
        (0.5, "is not clear"),
        (None, "; no flag"),
    ],
)
def test_what_it_costs(chance: float | None, says: str) -> None:
    cost = {"chance_cost": chance, "change": 1.2, "course": "open"}
    assert says in season_sentence("Lark", level(43.0, dt.date(2025, 9, 20)), NOW, cost, 0, NUMBERS)


def test_no_open_flag_is_said_in_words() -> None:
    assert [flags_phrase(n, EN) for n in (0, 1, 2)] == ["no flag is open", "1 flag is open", "2 flags are open"]
