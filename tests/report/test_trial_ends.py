"""How a trial that was ended is told, and one that lost speed without its being clear that it matters."""

from __future__ import annotations

import pytest

from reports.findings.trials import ended_by, verdict_sentence, with_end
from tests.report.test_trial_sentences import EN, ENDED, NUMBERS, OPEN


@pytest.mark.parametrize(
    ("planned", "struck", "rule", "by"),
    [
        (70, 70, "settled", "sheet"),
        (70, 69, "settled", "settled"),
        (70, 70, "stopped", "stopped"),
        (None, None, "settled", "settled"),
    ],
)
def test_a_trial_whose_sheet_was_full_was_not_ended_before(planned: int | None, struck: int | None, rule: str, by: str) -> None:
    row = ENDED | {"end_rule": rule, "sheet_planned": planned, "sheet_struck": struck}
    assert ended_by(row) == by
    assert with_end("x", row, EN) == (EN("trial.ended", day=EN.day(ENDED["ended_on"]), rule=EN(f"trial.end_rule.{by}")) + " x")


def test_a_loss_of_speed_that_is_not_clear_is_no_gain() -> None:
    arm = {"arm": "slower", "left_right_ratio": None}
    loss = {"mean": -0.5, "low": -0.8, "high": -0.1, "level": 42.0, "more": 0.0, "less": 0.7}
    assert "gains no club speed; whether it loses" in verdict_sentence(OPEN, arm, loss, None, NUMBERS)
    assert "whether “slower” gains anything" in verdict_sentence(OPEN, arm, loss | {"high": 0.1}, None, NUMBERS)
