"""What is said of a trial never stands against the interval that is printed beside it."""

from __future__ import annotations

import pytest

from reports.findings.trials import cost_sentence, dose_sentence, side_words
from tests.report.test_trial_sentences import EFFECT, EN, NUMBERS, ROW, STROKES, plain


@pytest.mark.parametrize(
    ("side", "low", "high", "said"),
    [
        ("open", 0.4, 1.6, "up, not clearly by what matters"),
        ("open", -1.6, -0.4, "down, not clearly by what matters"),
        ("open", 0.0, 1.6, "not clear yet"),
        ("better", 0.4, 1.6, "better"),
    ],
)
def test_a_side_does_not_stand_against_its_interval(side: str, low: float, high: float, said: str) -> None:
    ends = {"low": low, "high": high}
    told = side_words(ROW | {"speed_side": side, "strokes_side": side}, EFFECT | ends, STROKES | ends, EN)
    assert told[:2] == [("Speed", said), ("Strokes", said)]


@pytest.mark.parametrize(
    ("mean", "low", "high", "said"),
    [
        (-0.6, -1.1, -0.1, "Wider saves 0.6 strokes a round (0.1 to 1.1) on the open course, not clearly as much as matters."),
        (0.6, 0.04, 1.1, "Wider costs 0.6 strokes a round (0.04 to 1.1) on the open course, not clearly as much as matters."),
        (0.6, -0.1, 1.1, "Wider is not clearly better or worse on the open course: +0.6 strokes a round (−0.1 to +1.1)."),
    ],
)
def test_what_is_seen_to_cost_is_not_called_unseen(mean: float, low: float, high: float, said: str) -> None:
    row = STROKES | {"mean": mean, "low": low, "high": high, "better": 0.5, "worse": 0.4}
    assert plain(cost_sentence(row, NUMBERS)) == said


@pytest.mark.parametrize(
    ("rising", "low", "high", "said"),
    [
        (0.91, 0.4, 1.6, "Yes: each step adds"),
        (0.91, 0.0, 1.6, "Not clear"),
        (0.9, 0.4, 1.6, "Not clear"),
        (0.1, -1.6, -0.4, "Not clear"),
        (0.09, -1.6, -0.4, "No: each step costs"),
        (0.09, -1.6, 0.0, "Not clear"),
    ],
)
def test_more_of_it(rising: float, low: float, high: float, said: str) -> None:
    assert dose_sentence(EFFECT | {"rising": rising, "low": low, "high": high}, NUMBERS).startswith(said)
