"""The rule, clause by clause."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipelines.measures.trial.verdict import REASONS, ArmEvidence, Chances, strokes_chances, verdict

OPEN = Chances(0.3, 0.1, 0.6)
GAIN = Chances(0.95, 0.0, 0.05)
LOSS = Chances(0.0, 0.95, 0.05)
BASE = ArmEvidence(
    speed=GAIN,
    strokes=strokes_chances(0.2, 0.3),
    wider=0.2,
    strokes_worse_at_all=0.4,
    speed_is_apart=True,
    body="calm",
    n_days=2,
    shots_per_arm=40,
)

CASES = [
    ("speed_gained", "keep", {}),
    ("strokes_gained", "keep", {"strokes": strokes_chances(0.0, 0.99), "strokes_worse_at_all": 0.0, "speed": OPEN}),
    ("second_day", "keep testing", {"n_days": 1}),
    ("body_first", "keep testing", {"body": "ask"}),
    ("price_unclear", "keep testing", {"strokes_worse_at_all": 0.85}),
    ("price_unclear", "keep testing", {"wider": 0.93}),
    ("price_unclear", "keep testing", {"strokes": None, "strokes_worse_at_all": None}),
    ("price_unclear", "keep testing", {"shots_per_arm": 12.0}),
    ("not_clear_yet", "keep testing", {"speed": OPEN}),
    ("no_difference", "keep testing", {"speed": Chances(0.02, 0.02, 0.96), "strokes": strokes_chances(0.0, 0.0)}),
    ("strokes_lost", "go back", {"strokes": strokes_chances(0.99, 0.0), "strokes_worse_at_all": 0.99}),
    ("strokes_lost", "go back", {"strokes": strokes_chances(0.93, 0.0), "strokes_worse_at_all": 0.97, "wider": 0.97}),
    ("speed_lost", "go back", {"speed": LOSS}),
    ("second_day", "keep testing", {"speed": LOSS, "n_days": 1}),
]


@pytest.mark.parametrize(("reason", "word", "change"), CASES)
def test_clause(reason, word, change):
    found = verdict(replace(BASE, **change))
    assert (found.word, found.reason) == (word, reason)


def test_every_reason_has_a_case():
    assert {case[0] for case in CASES} == set(REASONS)


def test_verdicts_on_speed_strokes_scatter_and_body_stand_side_by_side():
    found = verdict(replace(BASE, strokes=strokes_chances(0.99, 0.0), strokes_worse_at_all=0.99, wider=0.98, body="ask"))
    assert (found.speed, found.strokes, found.scatter, found.body) == ("better", "worse", "worse", "ask")


def test_strokes_are_not_judged_from_a_handful_of_shots_and_early_looks_ask_for_more():
    lost = {"strokes": strokes_chances(0.99, 0.0), "strokes_worse_at_all": 0.99}
    assert verdict(replace(BASE, shots_per_arm=15, **lost)).word == "keep testing"
    assert verdict(replace(BASE, shots_per_arm=20, **lost)).word == "keep testing"
    assert verdict(replace(BASE, shots_per_arm=40, **lost)).word == "go back"


def test_no_verdict_stands_against_the_interval_beside_it():
    """Strokes that matter may be lost with .93, and lost at all with less than .95: then the 90 % interval holds zero."""
    lost = {"strokes": strokes_chances(0.93, 0.0), "wider": 0.97, "speed": OPEN}
    assert verdict(replace(BASE, strokes_worse_at_all=0.94, **lost)).word == "keep testing"
    assert verdict(replace(BASE, strokes_worse_at_all=0.96, **lost)).word == "go back"
    for speed in (GAIN, LOSS):
        found = verdict(replace(BASE, speed=speed, speed_is_apart=False))
        assert (found.word, found.speed) == ("keep testing", "open")
    same = Chances(0.02, 0.02, 0.96)
    assert verdict(replace(BASE, speed=same, strokes=None, speed_is_apart=False)).speed == "same"


def test_a_loss_of_strokes_that_chance_makes_in_one_trial_of_fifty_is_not_said():
    """Seven looks at a trial without effect, .7 % from day to day: with .975 one in seventeen ended in keep or go back."""
    lost = {"strokes": strokes_chances(0.98, 0.0), "strokes_worse_at_all": 0.99, "speed": OPEN}
    assert verdict(replace(BASE, **lost)).word == "keep testing"


def test_two_measures_that_agree_must_be_surer_early_too():
    lost = {"strokes": strokes_chances(0.93, 0.0), "strokes_worse_at_all": 0.97, "wider": 0.97, "speed": OPEN}
    assert verdict(replace(BASE, shots_per_arm=40, **lost)).word == "go back"
    assert verdict(replace(BASE, shots_per_arm=20, **lost)).word == "keep testing"
    surer = lost | {"strokes": strokes_chances(0.96, 0.0)}
    assert verdict(replace(BASE, shots_per_arm=20, **surer)).word == "keep testing"
    assert verdict(replace(BASE, shots_per_arm=20, **(surer | {"wider": 0.98}))).word == "go back"
