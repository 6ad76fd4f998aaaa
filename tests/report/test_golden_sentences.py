"""Regression: the sentences of four stories in both languages, as they stood when a person last read them.

``python -m tests.report.test_golden_sentences`` writes them anew; read the difference before it is kept.
"""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from reports.findings.flags import flag_sentence, next_step
from reports.findings.own import body_sentences, good_sentences, growth_sentence, strokes_good, try_sentence
from reports.findings.season import own_lead, season_sentence, work_sentences
from reports.findings.side_by_side import MEASURES, Season, Value, digits, said
from reports.numbers import Numbers
from reports.story import Story
from reports.words import LANGUAGES, words
from schemas.academy import Units
from tests.report.conftest import flags

GOLDEN = Path(__file__).parents[1] / "data" / "golden_sentences.txt"


def _story(now: float, then: float, cost: dict[str, Any] | None, flags: list[dict[str, Any]], *, lasts: bool = True) -> Story:
    before = {"then_level": then, "then_on": dt.date(2025, 9, 28), "change": 100 * math.log(now / then), "lasts": lasts}
    return Story({"level": now, "on_date": dt.date(2026, 9, 28)}, before, cost, tuple(flags))


def _flag(kind: str, **values: Any) -> dict[str, Any]:
    told = {"metric": "", "club_group": "", "region": "", "value": None, "baseline": None, "reasons": [], "decision": None}
    return flags()[0] | {"kind": kind, "level": "alert", "decision_state": None} | told | values


def _cost(change: float, chance: float) -> dict[str, Any]:
    low, high = change - 0.3 / abs(chance - 0.5) / 2, change + 0.3 / abs(chance - 0.5) / 2
    return {"change": change, "change_low": low, "change_high": high, "chance_cost": chance, "course": "tree-lined"}


STORIES: dict[str, dict[str, Any]] = {
    "speed that costs": {
        "then": 47.4,
        "now": 49.6,
        "cost": _cost(3.4, 0.99),
        "flags": [
            _flag("strokes_worse", value=3.4),
            _flag("scatter_rise", metric="scatter_side_m", club_group="driver", value=18.3, baseline=12.1),
            _flag("speed_rise", club_group="driver", value=49.6, baseline=47.4),
        ],
    },
    "speed that pays": {
        "then": 41.0,
        "now": 42.0,
        "cost": _cost(-0.4, 0.02),
        "flags": [_flag("strokes_better", value=-0.4)],
    },
    "a body that asks": {
        "then": 42.5,
        "now": 41.5,
        "cost": _cost(0.3, 0.6),
        "flags": [
            _flag("speed_fall", club_group="driver", value=41.5, baseline=42.5),
            _flag("overuse_pattern", region="lead_wrist", reasons=["load_up", "region_stiff", "sleep_short"], value=3.0),
            _flag("body_stiff", region="lead_wrist", value=2.8, baseline=0.6, decision="rest", decision_state="under_decision"),
            _flag("load_jump", metric="day_full_effort", value=82, baseline=48),
        ],
    },
    "a quiet season": {"then": 40.0, "now": 40.1, "lasts": False, "cost": None, "flags": []},
}


def _seasons(story: dict[str, Any], numbers: Numbers) -> tuple[Season, Season]:
    """The season sheet's two columns, by the sizes of the story: speed as told, scatter and strokes with its cost."""
    cost, found = story["cost"], []
    for back, speed in ((0, story["now"]), (1, story["then"])):
        values = {"club_speed_mps": (speed, 0.3), "scatter_side_m": (18.3 if cost and not back else 12.1, 2.0)}
        if cost:
            values["strokes"] = (65.0 + (0.0 if back else cost["change"]), 0.4)
        shown = {measure.key: _value(*values[measure.key], measure.quantity, digits(measure, numbers), numbers)
                 for measure in MEASURES if measure.key in values}  # fmt: skip
        found.append(Season(back, dt.date(2025 - back, 10, 1), dt.date(2026 - back, 9, 28), shown))
    return found[0], found[1]


def _value(value: float, give: float, quantity: str, places: int, numbers: Numbers) -> Value:
    factor = 1.0 if quantity == "strokes" else numbers.quantity(quantity).factor
    ends = (round(end * factor, places) for end in (value, value - give, value + give))
    return Value(*ends, 30)


def _weeks(speed: float) -> pl.DataFrame:
    """Two years of weeks with as many swings as the story's speed makes plausible."""
    monday = dt.date(2026, 9, 28)
    rows = [(monday - dt.timedelta(weeks=back), int(5 * speed) + back % 7 * 9, 7) for back in range(90)]
    return pl.DataFrame(rows, schema=["week_starting", "swings_all", "n_days_known"], orient="row")


def told(language: str) -> list[str]:
    """The sentences of the four stories, one on each line, for coach and player."""
    units = Units("mph", "yd") if language == "en" else Units("km/h", "m")
    one, found = words(language), []
    numbers = Numbers(one, units)
    for name, story in STORIES.items():
        rows, cost = story["flags"], story["cost"]
        record = _story(story["now"], story["then"], cost, rows, lasts=story.get("lasts", True))
        told_of = [growth_sentence(record, numbers), strokes_good(record, numbers)]
        found += [
            f"[{language}: {name}]",
            season_sentence("Siskin", record, "coach", numbers),
            *(f"{flag_sentence(row, one, units)} {next_step(row, 'coach', one)}".rstrip() for row in rows),
            *good_sentences(told_of, rows, 16, numbers),
            *body_sentences(rows, "right", numbers),
            try_sentence(rows, one),
            own_lead("Siskin", record, numbers),
            said(*_seasons(story, numbers), "tree-lined", numbers),
            *(
                sentence
                for own in (False, True)
                for sentence in work_sentences(_weeks(story["now"]).to_dicts(), numbers, own=own)
            ),
            "",
        ]
    return found


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_sentences_of_four_stories(language: str) -> None:
    lines = GOLDEN.read_text(encoding="utf-8").split("\n")
    start = next(number for number, line in enumerate(lines) if line.startswith(f"[{language}:"))
    fresh = told(language)
    assert lines[start : start + len(fresh)] == fresh


if __name__ == "__main__":
    GOLDEN.write_text("\n".join(line for language in LANGUAGES for line in told(language)) + "\n", encoding="utf-8")
