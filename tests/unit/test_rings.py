"""Rings of shots about the middle of a session: counted by hand, and their chances added up by another library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

from pipelines.measures.scatter.rings import (
    EDGES,
    MAD_TO_SD,
    ODD_DAYS,
    ODD_WOBBLE,
    SHARES,
    USUAL_REACH,
    WIDTH_STEP,
    log_likelihoods,
    ring_counts,
)
from pipelines.measures.scatter.tails import TAIL_FACTOR
from pipelines.measures.scatter.wild import WOBBLE


def test_shots_are_counted_by_ring() -> None:
    """Twenty shots with a median distance of 10 m (14.8 m a standard deviation), and eight without one far out."""
    far = np.array([22.5, 29.0, 30.0, 48.0, 200.0])
    counts = ring_counts(np.array([20.0, 8.0]), np.array([10.0, 4.0]), np.zeros(5, dtype=np.int64), far)
    assert counts.tolist() == [[10, 5, 2, 1, 0, 1, 0, 1], [4, 4, 0, 0, 0, 0, 0, 0]]


def by_quadrature(counts: np.ndarray, mad: float, usual: float, share: float) -> float:
    """Independent: the error function of the standard library, and scipy's quadrature over the width of the session."""

    def beyond(edge: float, sd: float) -> float:
        return math.erfc(edge / (sd * math.sqrt(2.0)))

    def weighed(log_width: float) -> float:
        found = 1e12
        for count, low, high in zip(counts, EDGES[:-1], EDGES[1:], strict=True):
            parts = [beyond(low, sd) - beyond(high, sd) for sd in (math.exp(log_width), TAIL_FACTOR * math.exp(log_width))]
            found *= ((1.0 - share) * parts[0] + share * parts[1]) ** count
        days = [
            of * math.exp(-0.5 * ((log_width - usual) / sd) ** 2) / sd
            for of, sd in ((1.0 - ODD_DAYS, WOBBLE), (ODD_DAYS, ODD_WOBBLE))
        ]
        return float(found * sum(days))

    own = math.log(MAD_TO_SD * mad)
    usual -= own  # in the session's own robust standard deviations
    return math.log(integrate.quad(weighed, -1.2, 1.2, points=[0.0, usual], limit=200)[0])


@pytest.mark.parametrize("step", [-2, 0, 3])
def test_likelihoods_are_those_of_two_normal_parts_averaged_over_days(step: int) -> None:
    counts, mad = np.array([[12.0, 8.0, 1.0, 1.0, 0.0, 1.0, 0.0, 1.0]]), np.array([9.3])
    place, found = log_likelihoods(counts, mad)
    usual = WIDTH_STEP * (place[0] + step)
    expected = [by_quadrature(counts[0], 9.3, usual, share) for share in SHARES]
    mine = found[0, USUAL_REACH + step]
    # widths are taken to one in a hundred
    assert mine - mine[0] == pytest.approx(np.array(expected) - expected[0], abs=0.03)


def test_usual_widths_are_weighed_alike() -> None:
    counts, mad = np.array([[10.0, 8.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0]]), np.array([9.3])
    place, found = log_likelihoods(counts, mad)
    expected = [by_quadrature(counts[0], 9.3, WIDTH_STEP * (place[0] + step), 0.03) for step in (-2, 0, 3)]
    mine = found[0, USUAL_REACH + np.array([-2, 0, 3]), list(SHARES).index(0.03)]
    assert mine - mine[1] == pytest.approx(np.array(expected) - expected[1], abs=0.03)


def test_what_is_found_of_a_session_does_not_hang_on_those_beside_it() -> None:
    rng = np.random.default_rng(1)
    counts, mad = rng.poisson(4.0, (40, 8)).astype(float), rng.uniform(5.0, 20.0, 40)
    place, found = log_likelihoods(counts, mad)
    alone = [log_likelihoods(counts[[one]], mad[[one]]) for one in range(40)]
    assert place.tolist() == [one[0][0] for one in alone]
    assert all(np.array_equal(found[number], one[1][0]) for number, one in enumerate(alone))


@pytest.mark.parametrize("share", np.linspace(0.01, 0.10, 37))
def test_a_year_of_shots_finds_a_share_that_fits(share: float) -> None:
    """What 1,500 shots say against the nearest share, were it known which are wild: else a rise to its double fits better."""
    against = share * np.log(share / SHARES) + (1.0 - share) * np.log((1.0 - share) / (1.0 - SHARES))
    assert 1500 * against.min() <= 3.0
