from __future__ import annotations

import numpy as np

from pipelines.measures.trend.stall import stalled

DAYS = np.arange(0.0, 100.0, 2.0)
ALL = np.ones(DAYS.size, dtype=bool)


def chances(*parts: tuple[int, float]) -> np.ndarray:
    return np.concatenate([np.full(n, value) for n, value in parts])


def test_a_proven_rise_that_stops_is_a_stall_for_four_weeks() -> None:
    p_half = chances((10, 0.97), (5, 0.5), (35, 0.1))
    said = stalled(DAYS, p_half, ALL, ALL)
    first = int(np.flatnonzero(said)[0])
    assert first == 16  # the second low session; 14 days after the last proof have passed
    assert DAYS[np.flatnonzero(said)[-1]] - DAYS[first] == 28.0


def test_without_a_proven_rise_there_is_nothing_to_stall() -> None:
    assert not stalled(DAYS, chances((10, 0.9), (40, 0.1)), ALL, ALL).any()
    assert not stalled(DAYS, chances((10, 0.97), (40, 0.1)), ALL, ~ALL).any()


def test_not_within_two_weeks_of_the_proof() -> None:
    said = stalled(DAYS, chances((10, 0.97), (40, 0.1)), ALL, ALL)
    assert DAYS[np.flatnonzero(said)[0]] - DAYS[9] >= 14.0


def test_one_low_session_is_not_enough() -> None:
    p_half = chances((10, 0.97), (8, 0.5), (1, 0.1), (1, 0.5), (1, 0.1), (29, 0.5))
    assert not stalled(DAYS, p_half, ALL, ALL).any()


def test_a_rise_that_is_proven_anew_ends_it() -> None:
    p_half = chances((10, 0.97), (10, 0.1), (30, 0.97))
    said = stalled(DAYS, p_half, ALL, ALL)
    assert said[17]
    assert not said[20:].any()


def test_unknown_chances_are_passed_over() -> None:
    assert not stalled(DAYS, np.zeros(DAYS.size), ~ALL, ALL).any()
