"""Technique trials: what was tried, in which order, and what each arm truly does."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from pipelines.demo.truth import ArmTruth, TrialTruth


@dataclass(frozen=True)
class Trial:
    """One trial as it was run.

    Attributes
    ----------
    truth : TrialTruth
    question : str
    days : tuple of datetime.date
    blocks : int
        Blocks of each arm on each day.
    block_shots : int
    is_random : bool
        Order drawn at random within rounds; otherwise arm after arm, as players do on their own.
    warm_up : int
        Shots before, which do not count.
    """

    truth: TrialTruth
    question: str
    days: tuple[date, ...]
    blocks: int
    block_shots: int = 5
    is_random: bool = True
    warm_up: int = 8


TRIALS: tuple[Trial, ...] = (
    Trial(
        TrialTruth(
            "trial-01",
            "p05",
            "go back",
            "Played for eight weeks, tried against normal at the end, given up; afterwards all is as it was.",
            (ArmTruth("normal"), ArmTruth("later hit", 0.022, 0.5, path_deg=-2.5)),
        ),
        "hold the wrist angle longer",
        (date(2025, 6, 17), date(2025, 6, 21)),
        8,
    ),
    Trial(
        TrialTruth(
            "trial-02",
            "p10",
            "keep testing",
            "Arm after arm on one day, not planned here: order and change cannot be told apart.",
            (ArmTruth("normal"), ArmTruth("forward", 0.004), ArmTruth("well forward", 0.008, 0.1, attack_deg=1.5)),
        ),
        "ball further forward in the stance",
        (date(2025, 11, 15),),
        2,
        6,
        is_random=False,
        warm_up=0,
    ),
    Trial(
        TrialTruth(
            "trial-03",
            "p02",
            "keep",
            "2.4 % of speed, scatter as before.",
            (ArmTruth("normal"), ArmTruth("wider", 0.024, 0.0)),
        ),
        "feet a hand wider apart",
        (date(2026, 4, 2), date(2026, 4, 9)),
        8,
    ),
    Trial(
        TrialTruth(
            "trial-04",
            "p03",
            "go back",
            "3 % of speed, and twice the scatter: not among trees.",
            (ArmTruth("normal"), ArmTruth("bigger turn", 0.030, 1.0, path_deg=1.0, loft_deg=0.5)),
        ),
        "freer turn of the hips with the lead heel off the ground",
        (date(2026, 6, 12), date(2026, 6, 16)),
        8,
    ),
    Trial(
        TrialTruth(
            "trial-05",
            "p01",
            "keep testing",
            "A little longer gains 1.5 mph at the same scatter, a lot longer gains 4 mph and misses on both sides; "
            "a handful of shots cannot settle either.",
            (
                ArmTruth("normal"),
                ArmTruth("a little longer", 0.015, 0.0, attack_deg=0.3),
                ArmTruth("a lot longer", 0.040, 0.9, path_deg=1.0, attack_deg=0.8),
            ),
        ),
        "longer backswing",
        (date(2026, 8, 29), date(2026, 9, 5)),
        1,
        4,
    ),
)

TRIAL_DAYS: dict[str, tuple[date, ...]] = {trial.truth.player_id: trial.days for trial in TRIALS}


def block_order(trial: Trial, rng: np.random.Generator) -> tuple[str, ...]:
    """Arms of the blocks of one day in order; a planned trial is balanced within rounds and ends with normal."""
    arms = [arm.arm for arm in trial.truth.arms]
    if not trial.is_random:
        return tuple(arm for arm in arms for _ in range(trial.blocks))
    rounds = [[arms[index] for index in rng.permutation(len(arms))] for _ in range(trial.blocks)]
    return (*(arm for one in rounds for arm in one), arms[0])
