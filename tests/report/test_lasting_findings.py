"""Cells and sentences of what lasts: each quantity in its unit, with its interval and what stands behind it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from reports.findings.lasting import lasting_cells, lasting_sentences
from reports.findings.trend import since_sentence
from reports.numbers import Numbers
from reports.words import MINUS, NARROW_SPACE, words
from schemas.academy import Units

NUMBERS = Numbers(words("en"), Units("mph", "yd"))
SPEED: dict[str, Any] = {
    "against": "first", "then_on": dt.date(2025, 3, 3), "metric": "club_speed_mps", "club_group": "driver", "region": None,
    "then_level": 44.0, "now_level": 46.0, "change": 4.4, "change_low": 2.1, "change_high": 6.9, "n_then": 12, "n_now": 30,
}  # fmt: skip
STROKES = SPEED | {
    "against": "year", "metric": "strokes", "then_level": None, "now_level": None, "change": -1.1, "change_low": -1.9,
    "change_high": -0.3,
}  # fmt: skip
SWINGS = SPEED | {
    "metric": "week_swings", "club_group": "", "then_level": 200.0, "now_level": 400.0, "change": 69.3147, "change_low": 50.0,
    "change_high": 90.0,
}  # fmt: skip
HIP = SPEED | {
    "metric": "", "region": "lead_hip", "then_level": 1.5, "now_level": 4.0, "change": 2.5, "change_low": 1.2, "change_high": 3.8,
}  # fmt: skip
WILD = SPEED | {"metric": "wild_pct", "then_level": 2.0, "now_level": 9.0, "change": 7.0, "change_low": 3.1, "change_high": 10.9}
AIM = SPEED | {"metric": "aim_deg", "then_level": -1.5, "now_level": 1.5, "change": 3.0, "change_low": 2.0, "change_high": 4.0}


def plain(texts: list[str]) -> list[str]:
    return [text.replace(NARROW_SPACE, " ").replace(MINUS, "-") for text in texts]


@pytest.mark.parametrize(
    ("row", "cells"),
    [
        (SPEED, "Club speed, driver|the first normal (3 Mar 2025)|98.4 mph|102.9 mph|+4.5 %|+2.1 % to +7.1 %|12 / 30 sessions"),
        (STROKES, ("Strokes, driver|6 to 12 months ago (until March 2025)|–|–|-1.1 strokes|-1.9 strokes to -0.3 strokes|"
                  "12 / 30 drives")),
        (STROKES | {"against": "first", "change": 4.12, "change_low": 3.85, "change_high": 4.39},
         ("Strokes, driver|the first three months (until March 2025)|–|–|+4.1 strokes|+3.9 strokes to +4.4 strokes|"
          "12 / 30 drives")),
        (SWINGS, "Swings in a week|the first normal (3 Mar 2025)|200|400|+100.0 %|+64.9 % to +146.0 %|12 / 30 weeks"),
        (WILD, ("The share of wild shots, driver|the first normal (3 Mar 2025)|2.0 %|9.0 %|+7.0 points|"
                "+3.1 points to +10.9 points|12 / 30 sessions")),
        (AIM, ("Middle of the pattern, driver|the first normal (3 Mar 2025)|1.5° left|1.5° right|+3.0°|+2.0° to +4.0°|"
               "12 / 30 sessions")),
        (HIP, "Stiffness, lead hip|the first normal (3 Mar 2025)|1.5|4.0|+2.5|+1.2 to +3.8|12 / 30 answers"),
        (HIP | {"place": "left hip"},
         "Stiffness, left hip|the first normal (3 Mar 2025)|1.5|4.0|+2.5|+1.2 to +3.8|12 / 30 answers"),
    ],
)  # fmt: skip
def test_each_quantity_is_told_in_its_unit(row: dict[str, Any], cells: str) -> None:
    assert plain(lasting_cells(row, NUMBERS)) == cells.split("|")


def test_load_and_stiffness_are_sentences_too() -> None:
    swings, hip = plain(lasting_sentences([SWINGS, HIP], NUMBERS))
    assert swings == (
        "Against the first normal (3 Mar 2025): 400 swings a week in the last four weeks, then 200 "
        "(+100.0 %; 90 % interval +64.9 % to +146.0 %; 12 / 30 weeks)."
    )
    assert hip == (
        "Against the first normal (3 Mar 2025): Stiffness, lead hip, 4.0 of 10 in the last four weeks, then 1.5 "
        "(+2.5; 90 % interval +1.2 to +3.8; 12 / 30 answers)."
    )


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (SPEED, "On 3 March 2025 it was 98.4 mph, now 102.9 mph: a clear rise (+4.5 %, 90 % interval +2.1 % to +7.1 %)."),
        (WILD, "On 3 March 2025 it was 2.0 %, now 9.0 %: a clear rise (+7.0 points, 90 % interval +3.1 points to +10.9 points)."),
        (AIM, "On 3 March 2025 it was 1.5° left, now 1.5° right: clearly farther right (+3.0°, 90 % interval +2.0° to +4.0°)."),
        (AIM | {"then_level": 1.0, "change": -3.0, "change_low": -4.0, "change_high": -2.0},
         "On 3 March 2025 it was 1.0° right, now 2.0° left: clearly farther left (-3.0°, 90 % interval -4.0° to -2.0°)."),
        (AIM | {"lasts": False, "change": 0.2, "change_low": -0.8, "change_high": 1.2},
         "On 3 March 2025 it was 1.5° left, now 1.3° left: no clear difference (+0.2°, 90 % interval -0.8° to +1.2°)."),
    ],
)  # fmt: skip
def test_then_and_now_are_told_in_the_unit_of_the_quantity(row: dict[str, Any], said: str) -> None:
    assert plain([since_sentence({"lasts": True, **row}, row["metric"], NUMBERS)]) == [said]
