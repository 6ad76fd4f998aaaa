"""Lists are read by what findings cost or ask for, not by the day on which they were raised."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from pipelines.measures.flags.rules import RULES
from reports.findings.flags import next_step
from reports.findings.order import GOOD, mark_of, reading_order, weight
from reports.words import LANGUAGES, words


def finding(kind: str, value: float | None = None, baseline: float | None = None, **more: Any) -> dict[str, Any]:
    base = {"flag_id": f"{kind}-{value}", "kind": kind, "level": "alert", "metric": "", "value": value, "baseline": baseline}
    return base | {"reasons": [], "decision": None} | more


LADDER = [
    finding("strokes_worse", 3.4, level="notice"),
    finding("wild_rise", 15.0, 3.0, metric="wild_pct"),
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
        assert next_step(finding(kind, 1.0, club_group="iron"), reader, words(language)).count(":") == 1


def test_a_gain_that_is_not_sure_asks_for_nothing_yet() -> None:
    for kind in GOOD:
        assert "nothing yet" in next_step(finding(kind, 1.0, level="notice"), "coach", words("en"))
        assert "nothing yet" not in next_step(finding(kind, 1.0, level="alert"), "coach", words("en"))


@pytest.mark.parametrize(
    ("level", "likely", "waits"),
    [("notice", -0.4, True), ("notice", -2.0, False), ("alert", -0.4, False), ("notice", None, False)],
)
def test_a_notice_that_is_mostly_luck_asks_for_nothing_yet(level: str, likely: float | None, waits: bool) -> None:
    """Eight notices of a tenth of a mile sent the coach to ask about sleep, health and practice."""
    reasons = [] if likely is None else [f"likely={likely}"]
    row = finding("speed_fall", 41.4, 42.5, metric="club_speed_mps", level=level, reasons=reasons)
    for reader in ("coach", "physio"):
        assert ("nothing yet" in next_step(row, reader, words("en"))) == waits
    moved = finding("aim_shift", -1.2, 0.1, metric="aim_deg", level="notice", reasons=["likely=-0.1"])
    assert "nothing yet" in next_step(moved, "coach", words("en"))


def test_a_slower_iron_is_measured_with_irons() -> None:
    assert "ten shots with the irons" in next_step(finding("speed_fall", 1.0, club_group="iron"), "coach", words("en"))
    assert "ten shots with the driver" in next_step(finding("speed_fall", 1.0, club_group="driver"), "coach", words("en"))


def test_good_news_carries_no_alarm() -> None:
    assert mark_of(finding("strokes_better", 1.5, level="alert")) == "good"
    assert mark_of(finding("strokes_better", 1.5, level="notice")) == "notice"
    assert mark_of(finding("strokes_worse", 1.5, level="alert")) == "alert"
    assert mark_of(finding("strokes_worse", 0.5, level="notice")) == "notice"


@pytest.mark.parametrize(
    ("row", "coach", "physio"),
    [
        (finding("strokes_worse", 1.5), 1.5, 0.3),
        (finding("speed_cost", -1.5), 1.5, 0.3),
        (finding("speed_cost", 1.5, 1.0), 0.5, 0.1),
        (finding("strokes_worse"), 0.0, 0.0),
        (finding("speed_fall", 38.0, 40.0), 0.2 + 10 * 0.05, 0.2 * 0.7),
        (finding("speed_fall", 38.0, -40.0), 0.2 + 10 * 1.95, 0.2 * 19.7),
        (finding("speed_fall", 38.0), 0.2, 0.04),
        (finding("speed_fall", 38.0, 0.0), 0.2, 0.04),
        (finding("speed_stall", 38.0, 40.0), 0.2, 0.04),
        (finding("transfer_loss", 200.0, 210.0), 0.2 + 0.4, 0.12),
        (finding("transfer_loss", 150.0, 210.0), 0.2 + 0.8, 0.2),
        (finding("scatter_rise", 12.0, 8.25, metric="scatter_side_m"), 0.85, 0.17),  # 3.75 m are one degree
        (finding("scatter_rise", 12.0, 8.25, metric="scatter_side_m", club_group="driver"), 0.85, 0.17),
        (finding("scatter_rise", 12.0, 8.25, metric="scatter_side_m", club_group="iron"), 0.34, 0.068),
        (finding("scatter_rise", 12.0, 8.25, metric="scatter_long_m"), 0.34, 0.068),
        (finding("scatter_rise", 12.0, 8.25, metric="carry_depth_m"), 0.34, 0.068),
        (finding("scatter_rise", 5.0, 3.0, metric="direction_deg"), 1.7, 0.34),
        (finding("aim_shift", 1.0, -1.0, metric="aim_deg"), 0.2 + 0.85, 0.21),
        (finding("wild_rise", 15.0, 5.0, metric="wild_pct"), 1.0, 0.2),
        (finding("load_jump", 150.0, 100.0), 0.55, 0.55),
        (finding("load_jump", 500.0, 100.0), 1.05, 1.05),
        (finding("load_flat", 15.0, 14.0), 0.4, 0.7),
        (finding("quiet", 20.0), 0.5, 0.1),
        (finding("quiet", 90.0), 0.9, 0.18),
        (finding("quiet"), 0.3, 0.06),
        (finding("plan_gap", 1.0, 2.0), 0.15, 0.03),
        (finding("device_shift", 1.0, 2.0), 0.7, 0.14),
        (finding("overuse_pattern", reasons=["a", "b"]), 3.6, 3.6),
        (finding("overuse_pattern", reasons=None), 3.0, 3.0),
        (finding("problem_report", 40.0), 3.0, 3.0),
        (finding("problem_report"), 2.0, 2.0),
        (finding("body_stiff", 5.0, 3.0), 0.9, 0.9),
        (finding("body_fatigue", 5.0, 3.0), 0.5, 0.5),
        (finding("answers_fewer", 2.0, 9.0), 1.0, 1.0),
        (finding("unheard_of", 2.0, 9.0), 0.3, 0.06),
        *((finding(kind, 9.0, 1.0), 0.02, 0.02) for kind in sorted(GOOD)),
        (finding("speed_stall", level="notice"), 0.12, 0.024),
        (finding("speed_stall", decision="watch"), 0.06, 0.012),
        (finding("speed_stall", level="notice", decision="watch"), 0.036, 0.0072),
    ],
    ids=lambda value: value["kind"] if isinstance(value, dict) else "",
)
def test_what_each_finding_weighs(row: dict[str, Any], coach: float, physio: float) -> None:
    """The rules of the module, worked out by hand: strokes a round or their like."""
    assert weight(row, body_first=False) == pytest.approx(coach)
    assert weight(row, body_first=True) == pytest.approx(physio)


def test_equal_ones_of_a_kind_are_read_by_their_id() -> None:
    one, two = (finding("speed_stall") | {"flag_id": name} for name in ("a", "b"))
    assert reading_order([two, one], body_first=True) == [one, two]


def test_the_price_of_speed_leads_what_the_drives_cost_whatever_their_ids() -> None:
    cost, worse = finding("speed_cost", 2.2, flag_id="z"), finding("strokes_worse", 2.2, flag_id="a")
    for rows in ([cost, worse], [worse, cost]):
        assert [row["kind"] for row in reading_order(rows, body_first=False)] == ["speed_cost", "strokes_worse"]
