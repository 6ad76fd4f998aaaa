"""Schuster Brandt Frandsen et al. 2025, BJSM 59(17):1203-1210 (abstract read): classes of a session jump, in adult runners.

Borders: to 10 % is the reference, to 30 % small, to 100 % moderate, above large. Swing counts are own.
"""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.load.change import JUMP_BORDERS, JUMP_CLASSES, session_jumps
from pipelines.measures.load.grid import Readings
from pipelines.measures.load.windows import largest_before


def jumps(session: float | None, largest: float | None) -> Readings:
    def one(value: float | None) -> Readings:
        return Readings(np.array([[value or 0.0]]), np.array([[value is not None]]))

    return session_jumps(one(session), one(largest))


@pytest.mark.parametrize(
    ("swings", "percent", "name"),
    [
        (132, 10.00, "none"),
        (133, 10.83, "small"),
        (156, 30.00, "small"),
        (157, 30.83, "moderate"),
        (240, 100.00, "moderate"),
        (241, 100.83, "large"),
    ],
)
def test_classes_against_a_largest_session_of_120(swings: int, percent: float, name: str) -> None:
    jump = jumps(swings, 120)
    assert jump.known.all()
    assert 100 * jump.value[0, 0] == pytest.approx(percent, abs=0.005)
    above = sum(jump.value[0, 0] > border + 1e-9 for border in JUMP_BORDERS)
    assert JUMP_CLASSES[above] == name


@pytest.mark.parametrize(("session", "largest"), [(None, 120), (100, None), (100, 0)])
def test_no_jump_without_a_base(session: float | None, largest: float | None) -> None:
    assert not jumps(session, largest).known.any()


def test_the_largest_is_of_the_thirty_days_before_and_not_of_today() -> None:
    swings = np.zeros((1, 40))
    swings[0, 2], swings[0, 20], swings[0, 33], swings[0, 39] = 300, 120, 90, 241
    daily = Readings(swings, np.ones(swings.shape, dtype=np.bool_))
    before = largest_before(daily, 30)
    assert before.value[0, 32] == 300  # day 2 is 30 days ago
    assert before.value[0, 33] == 120
    assert session_jumps(daily, before).value[0, 39] == pytest.approx(241 / 120 - 1)
