"""Regression: what each finding says, case by case in both languages, as it stood when a person last read it.

``python -m tests.report.test_golden_findings`` writes the sentences anew; read the difference before it is kept.
"""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from reports.findings import ball, data, flags, own, programme, reach, rounds, season, sessions, trend
from reports.numbers import Numbers
from reports.story import Story
from reports.words import LANGUAGES, words
from schemas.academy import Units
from tests.report.conftest import KINDS
from tests.report.test_ball_findings import moved_carry, row
from tests.report.test_sentences import flag, phase
from tests.report.test_sentences import trend as trend_row
from tests.report.test_session_findings import ROW as SESSIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

GOLDEN = Path(__file__).parents[1] / "data" / "golden_findings.txt"
MARCH, OCTOBER = dt.date(2026, 3, 1), dt.date(2025, 10, 1)
UP, FLAT = {"p_better": 0.9, "change_28_low": 0.1}, {"p_trivial": 0.9}
DOWN = {"p_worse": 0.9, "change_28": -0.6, "change_28_low": -1.1, "change_28_high": -0.1}


def _of_flags(numbers: Numbers) -> Iterator[str]:
    one, units = numbers.words, numbers.units
    for kind, metric in (*KINDS, ("strokes_worse", "strokes"), ("strokes_better", "strokes"), ("scatter_rise", "aim_deg")):
        full = flag(kind, metric=metric, region="lower_back", club_group="driver", value=4.0, baseline=3.0, n=2)
        full |= {"low": 3.5, "high": 4.5, "raised_on": MARCH, "alerted_on": MARCH + dt.timedelta(days=9), "device_id": "unit-1"}
        yield flags.flag_sentence(full, one, units)
        yield flags.flag_evidence(full, one, units)
        less = full | {"value": None, "low": None, "alerted_on": None, "device_id": "", "n": 1}
        yield flags.flag_sentence(less, one, units)
        yield flags.flag_evidence(less, one, units)
        yield flags.flag_sentence(full | {"baseline": None, "raised_on": None}, one, units)
    yield flags.flag_sentence(flag("aim_shift", metric="aim_deg", club_group="putter", value=0.0, baseline=-0.0004), one, units)
    yield flags.flag_sentence(flag("aim_shift", metric="aim_deg", club_group="iron", value=1.0, baseline=-1.0), one, units)
    yield flags.flag_sentence(
        flag("scatter_rise", metric="scatter_long_m", club_group="iron", value=9.0, baseline=0.0), one, units
    )
    yield flags.metric_name("no_such_metric", one) + flags.metric_name("", one) + flags.region_name("left_ear", one)


def _of_the_ball(numbers: Numbers) -> Iterator[str]:
    for speed, scatter in ((0.3, 0.2), (-0.3, -0.2), (0.29, 0.19), (None, -0.19)):
        yield ball.moved_sentence(row("open", 0.5, change_speed_mps=speed, change_scatter_deg=scatter), numbers)
    for chances in ((0.97, 0.03), (0.97, 0.5), (0.5, 0.03), (0.89, 0.11), (None, 0.03)):
        for speed in (0.3, 0.29, None):
            courses = zip(("Alder Wood", "open"), chances, (1.25, -0.75), strict=True)
            rows = [row(c, p, value, change_speed_mps=speed) for c, p, value in courses]
            yield ball.worth_sentence(rows, numbers)
        yield ball.detail_sentence(rows, numbers)
    yield ball.worth_sentence([], numbers)
    yield ball.split_sentence(row("tree-lined", 0.95, 2.0), numbers)
    yield ball.split_sentence(row("tree-lined", 0.05, -2.0, change_distance=0.4), numbers)
    yield ball.split_sentence(row("tree-lined", None, None), numbers)
    even = {"speed_gain_mps": 0.894, "scatter_gain_deg": 0.5, "speed_price_mps": None, "scatter_price_deg": 0.25}
    rows = [even | {"course": "open"}, even | {"course": "home", "scatter_price_deg": None, "speed_price_mps": 1.5}]
    yield ball.break_even_sentence(rows, numbers)
    for speed in (0.31, 0.29, -0.31, -0.29):
        yield ball.transfer_sentence(moved_carry(speed, strike_m=-3.0, launch_m=None, rest_m=-0.1), numbers)
    lost = {"strike_m": -2.21, "speed_ratio_m": -2.19, "launch_m": -2.2, "spin_m": 5.0, "rest_m": -4.0}
    yield ball.transfer_sentence(moved_carry(2.0, **lost), numbers)
    yield ball.transfer_sentence(moved_carry(2.0, carry_change_low_m=None), numbers)
    yield f"{ball.stroke_text(None, numbers)} {ball.stroke_text(-1.26, numbers)}"


def _then(level: float, now: float, day: dt.date, *, lasts: bool = True) -> dict[str, Any]:
    change = 100 * math.log(now / level)
    return {
        "then_level": level,
        "then_on": day,
        "lasts": lasts,
        "change": change,
        "change_low": change - 1.2,
        "change_high": change + 1.2,
    }


def _of_seasons(numbers: Numbers) -> Iterator[str]:
    now = {"level": 45.0, "on_date": MARCH}
    flags_open = (flag("quiet"), flag("plan_gap"))
    for level, lasts in ((44.5, True), (44.25, False), (45.25, False), (45.5, True), (46.0, True)):
        then = _then(level, 45.0, OCTOBER, lasts=lasts)
        yield season.season_sentence("Lark", Story(now, then, row("open", 0.95, 1.25), flags_open), "coach", numbers)
        yield own.growth_sentence(Story(now, then, None, ()), numbers)
    for level in (44.7, 44.75):
        yield own.growth_sentence(Story(now, _then(level, 45.0, OCTOBER), None, ()), numbers)
    for days in (89, 90):
        then = _then(43.0, 45.0, MARCH - dt.timedelta(days=days))
        yield season.season_sentence("Lark", Story(now, then, row("tree-lined", 0.05, -0.5), ()), "coach", numbers)
    yield season.season_sentence(
        "Lark", Story(now, _then(43.0, 45.0, OCTOBER), row("open", 0.5, 0.5), flags_open[:1]), "coach", numbers
    )
    yield own.strokes_good(Story(None, None, row("tree-lined", 0.03, -0.75), ()), numbers)
    yield own.strokes_good(Story(None, None, row("tree-lined", 0.11, -0.75), ()), numbers)


def _of_trends(numbers: Numbers) -> Iterator[str]:
    cases: tuple[dict[str, Any], ...] = (
        *(UP, DOWN, FLAT, {}, {"state": "stalled"}, {"state": "stalled"} | UP, {"state": "learning", "usual_n": 1}),
        *({"p_better": 0.89}, {"change_28": None, "change_28_low": None, "change_28_high": None, "worthwhile": None}),
    )
    for case in cases:
        for metric, level in (("club_speed_mps", 45.0), ("aim_deg", -1.5), ("scatter_side_m", 12.0)):
            one = trend_row(metric=metric, level=level, level_low=level - 0.5, level_high=level + 0.7, **case)
            yield trend.trend_sentence(one, numbers)
            yield trend.own_sentence(one, numbers)
    for now, lasts in ((46.1, True), (46.0, False), (43.9, True), (44.0, False)):
        yield trend.since_sentence(_then(45.0, now, OCTOBER, lasts=lasts), "club_speed_mps", numbers)
    for speed in ({"state": "learning"}, UP, DOWN, FLAT, {}):
        for others in ((UP, UP), (UP, DOWN), (FLAT, UP), (DOWN, DOWN), ({}, UP), (DOWN,), ()):
            named = zip(("ball_speed_mps", "comparable_carry_m"), others, strict=False)
            followers = {metric: trend_row(metric=metric, **({"change_28": 1.5} | one)) for metric, one in named}
            yield reach.reach_sentence({"club_speed_mps": trend_row(**speed)} | followers, numbers)
    yield reach.reach_sentence({}, numbers)


def _of_rounds(numbers: Numbers) -> Iterator[str]:
    gain: dict[str, Any] = {
        "score": 83.25, "month_on": MARCH, "n_rounds": 5, "course": "open", "expected_change": -0.8, "score_change": -1.5,
        "change_low": -2.5, "change_high": 0.5, "n_reference_rounds": 1, "reference_from_on": OCTOBER, "rounds_to_see": 60,
        "reference_to_on": dt.date(2025, 12, 1), "round_sd": 3.25, "n_tee_shots": 70, "card_fairway_share": 0.55,
        "card_fairway_low": 0.45, "card_fairway_high": 0.65, "drive_fairway_share": 0.5,
        "expected_low": -1.5, "expected_high": 0.125,
    }  # fmt: skip
    for state in ("shows", "against", "not_yet", "drives_unclear", "too_small", "no_reference"):
        one = gain | {"state": state}
        yield rounds.score_sentence(one, numbers)
        yield rounds.needed_sentence(one, numbers)
        yield rounds.needed_sentence(one | {"rounds_to_see": 61, "expected_change": 0.8}, numbers)
        yield rounds.needed_sentence(one | {"rounds_to_see": None}, numbers)
    for state in ("agrees", "fewer", "more", "unknown"):
        yield rounds.fairway_sentence(gain | {"fairway_state": state}, numbers)


def _of_the_rest(numbers: Numbers) -> Iterator[str]:
    one = numbers.words
    files = {"n_rows": 10, "n_loaded": 8, "n_quarantined": 2, "status": "loaded"}
    for states in ((), ("loaded",), ("held", "loaded"), ("held", "held", "loaded")):
        yield data.files_sentence(pl.DataFrame([files | {"status": state} for state in states]), one)
    for n_groups, n_problems in ((0, 0), (1, 1), (1, 2), (3, 7)):
        yield data.problems_sentence(n_groups, n_problems, one)
    for metric, offset, error in (("club_speed_mps", 0.8, 0.2), ("aim_deg", -0.5, 0.1), ("club_speed_mps", -0.8, None)):
        yield data.offset_sentence(
            {"metric": metric, "offset": offset, "error": error, "n_bridges": 4, "basis": "two devices", "from_on": MARCH},
            numbers,
        )
    groups = ([phase(0.1, 1.0)], [phase(-1.0, 0.0), phase(0.0, 1.0), phase(-1.0, -0.1)], [phase(None, 1.0), phase(1.0, None)])
    for group in groups:
        yield programme.phase_sentence("base", group, numbers)
        yield programme.done_share(group[0], one)
    yield programme.done_share(phase(0, 1, done_share=None, done_full=None, n_days_known=6), one)
    changes: tuple[dict[str, Any], ...] = (
        *(
            {},
            {"full_from_ball": None},
            {"full_from_ball": 1},
            {"tired_high_pct": 0.0},
            {"tired_pct": -0.2},
            {"tired_pct": -0.19},
        ),
        *({"tired_pct": None}, {"cold_pct": None, "full_from_ball": None}, {"full_from_ball": None, "tired_high_pct": 0.1}),
    )
    for change in changes:
        for say in (
            sessions.warming_sentence,
            sessions.tiring_sentence,
            sessions.practice_sentence,
            sessions.own_practice_sentence,
        ):
            yield say({**SESSIONS, **change}, numbers)


AREAS = {
    "flags": _of_flags,
    "ball": _of_the_ball,
    "seasons": _of_seasons,
    "trends": _of_trends,
    "rounds": _of_rounds,
    "the rest": _of_the_rest,
}


def told(language: str, area: str) -> list[str]:
    """The sentences of one area in one language, one on each line, with usual spaces."""
    numbers = Numbers(words(language), Units("mph", "yd") if language == "en" else Units("km/h", "m"))
    lines = [text.replace("\N{NARROW NO-BREAK SPACE}", "_") or "-" for text in AREAS[area](numbers)]
    return [f"[{language}: {area}]", *lines, ""]


@pytest.mark.parametrize("area", AREAS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_what_each_finding_says(language: str, area: str) -> None:
    lines = GOLDEN.read_text(encoding="utf-8").split("\n")
    fresh = told(language, area)
    start = lines.index(fresh[0])
    assert lines[start : start + len(fresh)] == fresh


if __name__ == "__main__":
    GOLDEN.write_text("\n".join(line for one in LANGUAGES for area in AREAS for line in told(one, area)) + "\n", encoding="utf-8")
