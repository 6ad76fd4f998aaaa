"""A trend that goes on from what stands says, to the last digit, what is said from the first session on."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from pipelines.measures.shift.run import Shift
from pipelines.measures.trend.runs import Standing, with_jumps
from pipelines.measures.trend.series import SeriesBatch

LENGTHS = (120, 95, 60, 31, 8, 2)
SHIFTS = (
    Shift(0, 44, 40, upward=False),
    Shift(0, 71, 66, upward=True),
    Shift(0, 101, 96, upward=True),
    Shift(1, 83, 60, upward=True),
    Shift(2, 12, 10, upward=False),
)


def simulated() -> SeriesBatch:
    rng, shape = np.random.default_rng(11), (max(LENGTHS), len(LENGTHS))
    days = np.cumsum(rng.integers(1, 9, shape), axis=0).astype(float)
    values = 370.0 + np.cumsum(rng.normal(0.0, 0.2, shape), axis=0) + rng.normal(0.0, 1.0, shape)
    return SeriesBatch(days, values, rng.uniform(0.05, 0.3, shape), np.zeros(shape), np.array(LENGTHS))


def upto(batch: SeriesBatch, n: np.ndarray) -> SeriesBatch:
    return SeriesBatch(batch.days, batch.values, batch.noise_variance, batch.jump_variance, n)


def cut(standing: Standing, n: np.ndarray) -> Standing:
    """What would have been kept: levels of its sessions alone."""
    there = np.arange(standing.levels.shape[0])[:, None] < n
    return Standing(standing.n, standing.at, standing.since, standing.state, np.where(there, standing.levels, np.nan))


@pytest.mark.parametrize("ends", [(0.3, 0.6, 0.8, 1.0), (0.55, 0.6, 0.65, 1.0), (0.85, 0.86, 0.9, 0.95)])
def test_night_after_night_it_goes_on_from_what_stands(ends: tuple[float, ...]) -> None:
    batch, worthwhile = simulated(), np.ones((max(LENGTHS), len(LENGTHS)))
    whole, levels, _ = with_jumps(batch, worthwhile, np.zeros(len(LENGTHS), dtype=np.int64), SHIFTS)
    n = np.maximum((0.25 * batch.lengths).astype(np.int64), 1)
    first = np.zeros_like(n)
    early = upto(batch, n)
    standing = with_jumps(early, worthwhile, first, [one for one in SHIFTS if one.signal_step < n[one.series]], closing=n)[2]
    for end in ends:
        lengths = np.maximum((end * batch.lengths).astype(np.int64), n)
        known = [one for one in SHIFTS if one.signal_step < lengths[one.series]]
        first = np.maximum(n - 1, 0)
        some, again, now = with_jumps(upto(batch, lengths), worthwhile, first, known, cut(standing, n), lengths)
        told = (whole.steps >= first[whole.series]) & (whole.steps < lengths[whole.series])
        for field in fields(whole):
            np.testing.assert_array_equal(getattr(some, field.name), getattr(whole, field.name)[told])
        there = np.arange(batch.days.shape[0])[:, None] < lengths
        np.testing.assert_array_equal(again[there], levels[there])
        anew = with_jumps(upto(batch, lengths), worthwhile, np.zeros_like(n), known, closing=lengths)[2]
        for name in ("n", "at", "since", "state"):
            np.testing.assert_array_equal(getattr(now, name), getattr(anew, name))
        standing, n = now, lengths


def test_what_stands_is_not_computed_again() -> None:
    """Other values before the state leave what is said: they were not read."""
    batch, ones = simulated(), np.ones((max(LENGTHS), len(LENGTHS)))
    n = batch.lengths - 1
    stands = with_jumps(batch, ones, np.zeros_like(n), SHIFTS, closing=n)[2]
    some, _, _ = with_jumps(batch, ones, n - 1, SHIFTS, stands)
    batch.values[1 : stands.at[3], 3] += 3.0
    again, _, _ = with_jumps(batch, ones, n - 1, SHIFTS, stands)
    np.testing.assert_array_equal(some.level, again.level)
