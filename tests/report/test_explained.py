"""What `explain` prints of a flag: words and the academy's units, no code and no number without its unit."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest

from pipelines.measures.flags.rules import RULES
from reports.findings.explained import events_told, norms_told, origins_told, points_told, reasons_told
from reports.numbers import DASH, Numbers
from reports.words import NARROW_SPACE, words
from schemas.academy import Units

EN, DE = (Numbers(words(language), Units("mph", "yd")) for language in ("en", "de"))
DAY = dt.date(2026, 3, 1)
FALL: dict[str, Any] = {
    "kind": "speed_fall",
    "metric": "club_speed_mps",
    "club_group": "driver",
    "reasons": ["chart=6.41", "beyond_usual=-3.05", "worthwhile=1.0", "likely=-2.8", "retest=2", "chance=0.00182"],
}
EVENT = {
    "on_date": DAY,
    "event": "alerted",
    "level": "alert",
    "value": 44.704,
    "baseline": 46.0451,
    "low": 44.3,
    "high": 45.1,
    "n": 12,
}


def plain(text: str) -> str:
    return text.replace(NARROW_SPACE, " ").replace("\N{MINUS SIGN}", "-")


def test_reasons_are_words_with_units_and_those_of_the_sentence_are_not_told_twice() -> None:
    assert [plain(reason) for reason in reasons_told(FALL, EN)] == [
        "small differences add up to 6.4 standard deviations on the chart",
        "-3.0 % beside the own normal",  # exp(-.0305) - 1
        "worth calling a change from 1.0 % on",
        "chance of as much when nothing has happened: 0.002",
    ]


@pytest.mark.parametrize(
    ("kind", "metric", "reason", "said"),
    [
        ("plan_gap", "", "done_over_planned=0.27", "27 % of what was planned was done in the newest week"),
        ("load_jump", "week_swings", "class:large", "as load goes, the step is large"),
        ("quiet", "", "days_without_sign=11", "11 days without an entry"),
        ("aim_shift", "aim_deg", "beyond_usual=1.2", "+1.2° beside the own normal"),
        ("speed_stall", "club_speed_mps", "change_28=-1.4", "-1.4 % in the last 28 days"),
        ("device_shift", "club_speed_mps", "move=2.0", "together by +2.0 %"),
    ],
)
def test_each_reason_has_its_words(kind: str, metric: str, reason: str, said: str) -> None:
    flag = {"kind": kind, "metric": metric, "reasons": [reason, metric]}
    assert [plain(one) for one in reasons_told(flag, EN)] == [said]
    assert not re.search(r"=|_", " ".join(reasons_told(flag, DE)))


def test_events_have_units_words_and_an_interval() -> None:
    headers, ((*cells,),) = events_told(FALL, [EVENT], EN)
    assert len(headers) == len(cells)
    assert [plain(cell) for cell in cells] == [
        "1 Mar 2026", "became an alert", "Alert", "100.0 mph", "103.0 mph", "99.1 mph to 100.9 mph", "12",
    ]  # fmt: skip
    device = FALL | {"kind": "device_shift"}
    moved = EVENT | {"event": "players", "value": 1.98, "baseline": 0.0, "low": 1.0, "high": 3.0}
    (told,) = events_told(device, [moved], EN)[1]
    assert plain(told[3]) == "+2.0 %"
    assert told[1] == "the players had changed, not the device"


def test_an_event_without_numbers_has_dashes() -> None:
    (told,) = events_told(FALL, [EVENT | {"value": None, "baseline": None, "low": None, "high": None, "n": None}], EN)[1]
    assert told[3:] == ["–"] * 4


def test_sessions_have_the_units_of_the_academy_and_a_chance_in_per_cent() -> None:
    point = {"metric": "scatter_side_m", "session_id": "s1", "on_date": DAY, "n": 30, "odd": 0.031}
    headers, (told,) = points_told([point | {"value": 9.144, "usual": None, "level": 18.288}], EN)
    assert len(headers) == len(told)
    assert [plain(cell) for cell in told] == ["1 Mar 2026", "s1", "30", "10.0 yd", "–", "20.0 yd", "3 %"]


def test_what_is_usual_says_of_how_many_it_is_told_or_that_it_is_none_yet() -> None:
    norms = {"metric": "club_speed_mps", "club_group": "driver", "session_sd": 0.7, "typical_error": 0.9, "worthwhile": 1.0}
    norms |= {"detectable": 2.4, "n_players": 7, "n_pairs": 202, "is_prior": False}
    told = plain(norms_told(norms, EN))
    assert told.startswith("Usual in the squad, club speed with the driver: sessions of a player differ by 0.7 %")
    assert told.endswith("From 7 players and 202 pairs of sessions.")
    assert "values to begin with" in norms_told(norms | {"n_players": 0, "n_pairs": 0, "is_prior": True}, EN)


def test_files_are_told_by_words_and_lines() -> None:
    rows = [
        {"what": "session", "source": "s1", "detail": "speed", "n_rows": 1, "first_line": 4, "last_line": 4},
        {"what": "problem", "source": "problem:2026-03-01", "detail": "lower_back", "n_rows": 1, "first_line": 2, "last_line": 2},
        {"what": "shots", "source": "s1", "detail": "driver", "n_rows": 27, "first_line": 2, "last_line": 28},
    ]
    headers, told = origins_told([row | {"on_date": DAY, "file_name": "a.csv"} for row in rows], EN)
    assert [len(headers)] * 3 == [len(row) for row in told]
    assert [row[1:4] + row[6:] for row in told] == [
        ["session", "s1", "speed work", "4"],
        ["weekly form", "problem:2026-03-01", "lower back", "2"],
        ["shots", "s1", "driver", "2 - 28"],
    ]


@pytest.mark.parametrize("kind", sorted(RULES))
def test_a_rule_is_told_in_the_language_of_the_academy(kind: str) -> None:
    declared = RULES[kind]
    for name in ("reads", "opens", "closes"):
        told = EN.words(f"explain.rule.{kind}.{name}")
        assert told == getattr(declared, name)
        assert DE.words(f"explain.rule.{kind}.{name}") != told


def test_details_of_a_row_are_words() -> None:
    row = {"source": "s1", "detail": "7-iron", "n_rows": 1, "file_name": "a.csv", "first_line": 2, "last_line": 2, "on_date": DAY}
    told = {
        what: origins_told([row | {"what": what, "detail": code}], DE)[1][0][3]
        for what, code in (("shots", "7-iron"), ("checkin", "answers"))
    }
    assert told == {"shots": "Eisen 7", "checkin": DASH}
