"""Sentences about a federation: who is meant, what is usual, what speed blocks brought and how far academies differ."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import pytest

from reports.findings.federation import differ_sentences, together_sentence, usual_sentence, whom
from reports.numbers import Numbers
from reports.words import MINUS, NARROW_SPACE, words
from schemas.academy import Units

EN = words("en")
NUMBERS = Numbers(EN, Units("mph", "yd"))


def plain(text: str) -> str:
    return text.replace(NARROW_SPACE, " ").replace(MINUS, "-")


def test_whom_a_row_is_about() -> None:
    assert whom({"sex": None, "age_band": None, "standard": None}, EN) == EN("federation.everybody")
    told = whom({"sex": "female", "age_band": "16_17", "standard": None}, EN)
    assert told == f"{EN('federation.sex.female')}, {EN('federation.age_band.16_17')}"
    assert whom({"sex": None, "age_band": None, "standard": "scratch"}, EN) == EN("federation.standard.scratch")


@pytest.mark.parametrize(
    ("quantity", "mean", "said"),
    [
        (
            "speed",
            45.0,
            (
                "At the end of March 2026 driver speed is 100.7 mph on average over 31 persons of 1 academy "
                "(90 % interval 98.4 to 102.9)."
            ),
        ),
        ("growth", 2.5, "It changed by +2.5 % a year (90 % interval +1.5 to +3.5; 31 persons of 1 academy)."),
        ("scatter", 14.0, "Drives scatter 15.3 yd left and right (90 % interval 14.2 to 16.4; 31 persons of 1 academy)."),
    ],
)
def test_what_is_usual(quantity: str, mean: float, said: str) -> None:
    row = {"quantity": quantity, "mean": mean, "low": mean - 1, "high": mean + 1, "n_persons": 31, "n_academies": 1}
    assert plain(usual_sentence(row, dt.date(2026, 3, 1), NUMBERS)) == said


@dataclass(frozen=True)
class Pooled:
    """Estimates of three academies as one."""

    n: int = 3
    mean: float = 1.2
    low: float = 0.3
    high: float = 2.1
    between_sd: float = 0.5
    between_low: float = 0.1
    between_high: float = 1.4
    heterogeneity: float = 0.42
    heterogeneity_low: float = 0.0
    heterogeneity_high: float = 0.81
    next_low: float | None = -0.6
    next_high: float | None = 3.0


@pytest.mark.parametrize(
    ("pooled", "said"),
    [
        (Pooled(), "Speed blocks went with +1.2 % driver speed on average over 3 academies (90 % interval +0.3 to +2.1)."),
        (
            Pooled(mean=-1.2, low=-2.1, high=-0.3),
            "Speed blocks went with a loss of driver speed on average over 3 academies: -1.2 % (90 % interval -2.1 to -0.3).",
        ),
        (
            Pooled(low=0.0),
            "Over 3 academies it is not clear whether speed blocks bring driver speed: +1.2 % (90 % interval 0.0 to +2.1).",
        ),
        (
            Pooled(mean=-1.2, low=-2.1, high=0.0),
            "Over 3 academies it is not clear whether speed blocks bring driver speed: -1.2 % (90 % interval -2.1 to 0.0).",
        ),
    ],
)
def test_what_speed_blocks_brought(pooled: Pooled, said: str) -> None:
    assert plain(together_sentence(pooled, NUMBERS)) == said


def test_how_far_academies_differ_and_where_a_further_one_is_expected() -> None:
    differ, further = differ_sentences(Pooled(), NUMBERS)
    assert plain(differ) == (
        "True effects differ between academies by a standard deviation of 0.5 % (90 % interval 0.1 to 1.4; variance 0.25); of "
        "the variation between the estimates 42 % is not chance (90 % interval 0 to 81)."
    )
    assert plain(further) == "In a further academy the true effect is expected at -0.6 to +3.0 % (90 % prediction interval)."
    closer, _ = differ_sentences(replace(Pooled(), between_sd=0.0, between_low=0.0, between_high=0.0), NUMBERS)
    assert closer == EN("federation.blocks.closer"), "an interval from 0 to 0 would say that academies do not differ at all"
    untold = EN("federation.blocks.no_next")
    assert differ_sentences(replace(Pooled(), next_low=None), NUMBERS) == (differ, untold)
    assert differ_sentences(replace(Pooled(), next_high=None), NUMBERS) == (differ, untold)
