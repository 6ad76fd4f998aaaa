"""How near what is told comes to what the sessions can hold: against readers who know how they come about.

``pytest -m benchmark -s tests/benchmarks/detection/test_best_reader.py``; seeds are those of first runs.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.detection.best_reader import (
    STEPS,
    best_f1,
    bias_of,
    largest_within,
    steps_held,
    stop_ratios,
)
from tests.benchmarks.detection.makings import MAKINGS, STEP, STEP_TO, made, session_values
from tests.benchmarks.detection.test_makings import detection, held, said_of, told

pytestmark = pytest.mark.benchmark

SQUADS = (3921, 3929, 3930)
GO_ON = (0.05, 0.092, 0.13)
"""Chances at which one who goes on rising is told within 56 days: .05 a player-month is .092."""


def test_falls_of_who_comes_once_a_week() -> None:
    making = MAKINGS["irregular"]
    falling, stepped, quiet = (session_values(making, seed, event, 500) for seed, event in ((1, "drift"), (2, STEP), (3, "")))
    knows, best = (best_f1(falling, stepped, quiet, one) for one in (True, False))
    told(f"\nbest F1 of drifts, onset known: {knows}; not known: {best}")
    rates = np.array([detection(said_of(made(making, seed)), "drift")[:3] for seed in SQUADS])
    told(f"ours, {SQUADS}: recall, precision, F1 {rates.round(2).tolist()}; {rates[:, 2].mean() / best.f1:.3f} of the best")
    assert 0.89 <= best.f1 < 0.93 <= knows.f1
    assert rates[:, 2].mean() >= 0.88 * best.f1


def test_stops_of_who_comes_once_a_week() -> None:
    """Beside those who go on at 1.2 % in 28 days, and those who rise slowly all the time, of whom few may be told."""
    making, found = MAKINGS["irregular"], {}
    players = {event: session_values(making, seed, event, 200) for seed, event in ((4, "plateau"), (5, "goes on"), (6, "slow"))}
    for slow_go_on in (False, True):
        ratios = {event: [stop_ratios(one, slow_go_on) for one in some] for event, some in players.items()}
        stops, go_on = (largest_within(players[event], ratios[event], 56.0) for event in ("plateau", "goes on"))
        slow = np.array(
            [of[one.day > 60.0].max(initial=-np.inf) for one, of in zip(players["slow"], ratios["slow"], strict=True)]
        )
        for chance in GO_ON:
            limit = np.quantile(go_on, 1.0 - chance)
            found[slow_go_on, chance] = recall = float(np.mean(stops > limit))
            told(f"slow rises go on: {slow_go_on}, {chance}: {recall:.3f} told, of slow rises ever {np.mean(slow > limit):.3f}")
    ours = np.array([detection(said_of(made(making, seed)), "plateau")[:3] for seed in SQUADS])
    told(f"ours, {SQUADS}: recall, precision, F1 {ours.round(2).tolist()}")
    assert ours[:, 0].mean() >= 0.8 * found[True, 0.13]


@pytest.mark.parametrize("name", ["normal", "irregular", "bad days skipped"])
def test_levels_after_a_step(name: str) -> None:
    making = MAKINGS[name]
    players = session_values(making, 7, STEP, 150)
    known, any_size = (steps_held(players, sizes) for sizes in (np.array([STEP_TO]), STEPS))
    told(f"\n{name}: exact intervals hold, size known {known}, not known {any_size}")
    if making.skips_bad:
        told(f"  of one who knows who leaves: {steps_held(players, STEPS, bias_of(making))}")
    level, _, n = held(said_of(made(making, 3931, 100, (STEP,))), 14, (STEP,))
    told(f"  ours within 14 days: {level:.3f} of {n}")
    assert level >= any_size["14 days"] - 0.02
