"""The season in one sentence, and the pages of players one after another."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import pytest

from reports.findings.season import flags_phrase, season_sentence
from reports.numbers import Numbers
from reports.words import words
from schemas.academy import Units

if TYPE_CHECKING:
    from tests.report.conftest import Built

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


def test_players_are_turned_over_by_name(built: Built) -> None:
    first, last = built.text("coach/players/p1.html"), built.text("physio/players/p2.html")
    assert '<a rel="next" href="../players/p3.html">Next: Stork</a>' in first
    assert 'rel="prev"' not in first
    assert '<a rel="prev" href="../players/p3.html">Previous: Stork</a>' in last
    assert 'rel="next"' not in last
    own = next(path for path in built.folder.glob("players/*/index.html"))
    assert "neighbours" not in own.read_text(encoding="utf-8")


def test_shots_then_and_now_stand_side_by_side_in_one_scale(built: Built) -> None:
    text = built.text("coach/players/p1.html")
    assert "Then, " in text
    frames = {part.split("</script>")[0].split('"frame":')[1].split("}}")[0] for part in text.split('data-kind="pattern"')[1:]}
    assert text.count('data-kind="pattern"') == 2
    assert len(frames) == 1
