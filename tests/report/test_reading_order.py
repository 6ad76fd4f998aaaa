"""Lists are read by what findings cost or ask for, not by the day on which they were raised."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from pipelines.measures.flags.rules import RULES
from reports.findings.order import GOOD, reading_order, weight
from reports.words import LANGUAGES, words


def finding(kind: str, value: float | None = None, baseline: float | None = None, **more: Any) -> dict[str, Any]:
    base = {"flag_id": f"{kind}-{value}", "kind": kind, "level": "alert", "metric": "", "value": value, "baseline": baseline}
    return base | {"reasons": [], "decision": None} | more


LADDER = [
    finding("strokes_worse", 3.4, level="notice"),
    finding("wild_rise", 0.15, 0.03),
    finding("speed_cost", 0.99),
    finding("scatter_rise", 10.8, 7.5, metric="offline_m"),
    finding("speed_fall", 41.4, 42.5, metric="club_speed_mps"),
    finding("quiet", 11.0, level="notice"),
    finding("plan_gap", 128.0, 260.0, level="notice"),
    finding("scatter_fall", 8.4, 12.2, metric="offline_m"),
]


def test_the_dearest_comes_first_though_it_is_a_notice() -> None:
    assert reading_order(LADDER[::-1], body_first=False) == LADDER


@pytest.mark.parametrize(("dearer", "cheaper"), list(pairwise(LADDER)), ids=lambda row: row["kind"])
def test_each_step_of_the_ladder_weighs_less(dearer: dict[str, Any], cheaper: dict[str, Any]) -> None:
    assert weight(dearer, body_first=False) > weight(cheaper, body_first=False)


def test_several_signs_come_before_one_and_sleep_last_for_the_physio() -> None:
    signs = finding("overuse_pattern", reasons=["load", "stiff"])
    stiff = finding("body_stiff", 5.0, 2.0)
    sleep = finding("body_fatigue", 6.0, 7.5, metric="sleep_h")
    speed = finding("speed_fall", 41.4, 42.5, metric="club_speed_mps")
    assert reading_order([speed, sleep, stiff, signs], body_first=True) == [signs, stiff, sleep, speed]


def test_what_is_in_somebodys_hands_can_wait() -> None:
    open_one, taken = finding("speed_cost", 0.8), finding("speed_cost", 1.2, decision="watch")
    assert reading_order([taken, open_one], body_first=False) == [open_one, taken]


def test_good_news_weighs_least() -> None:
    good = max(weight(finding(kind, 9.0, 1.0), body_first=False) for kind in GOOD)
    assert good < min(weight(row, body_first=False) for row in LADDER if row["kind"] not in GOOD)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("kind", sorted(RULES))
def test_each_kind_says_what_to_do_and_who_does_it(kind: str, language: str) -> None:
    readers = {"coach": ("coach",), "physio": ("physio",), "both": ("coach", "physio")}[RULES[kind].audience]
    for reader in readers:
        assert words(language)(f"todo.{reader}.{kind}").count(":") == 1
