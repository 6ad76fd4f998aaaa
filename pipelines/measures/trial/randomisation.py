"""Tests that rest on nothing but the random order: blocks within rounds, and phases of a reversal design."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations, product
from math import factorial

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

EXACT_UP_TO = 20_000
DRAWS = 5_000


@dataclass(frozen=True)
class RandomisationResult:
    """What a randomisation test says.

    Attributes
    ----------
    difference : float
        Statistic of the order that was used.
    p_value : float
        Share of the possible orders with a difference at least as large (absolute).
    n_orders : int
        Orders looked at.
    smallest_p : float
        The smallest p-value that this design could give.
    is_exact : bool
        All possible orders were looked at.
    """

    difference: float
    p_value: float
    n_orders: int
    smallest_p: float
    is_exact: bool


def n_round_orders(n_arms: int, n_rounds: int) -> int:
    """Number of orders when every round holds each arm once, in random order."""
    return int(factorial(n_arms) ** n_rounds)


def round_orders(n_arms: int, n_rounds: int, rng: np.random.Generator) -> tuple[Ints, bool]:
    """Possible orders of arms, shape (orders, n_rounds, n_arms), and whether they are all of them."""
    each = np.array(list(permutations(range(n_arms))), dtype=np.int64)
    if n_round_orders(n_arms, n_rounds) <= EXACT_UP_TO:
        picks = np.array(list(product(range(len(each)), repeat=n_rounds)), dtype=np.int64)
        return each[picks], True
    return each[rng.integers(0, len(each), (DRAWS, n_rounds))], False


def round_randomisation(block_values: Floats, block_arms: Ints, arm: int, rng: np.random.Generator) -> RandomisationResult | None:
    """Test of one arm against normal (arm 0) by the random order of blocks within rounds.

    Parameters
    ----------
    block_values : array (rounds, arms)
        One value per block, in the order in which the blocks were struck.
    block_arms : int array (rounds, arms)
        Arm of each block; every row holds each arm once.
    arm : int
        Arm that is compared with arm 0.
    rng : Generator
        Used only where there are more than 20,000 orders; then 5,000 are drawn.

    Returns
    -------
    RandomisationResult or None
        None with fewer than two rounds.

    Raises
    ------
    ValueError
        When a row of ``block_arms`` does not hold each arm once.

    Notes
    -----
    Statistic: mean over the rounds of (block of the arm - block of normal). With two arms and r rounds the smallest
    two-sided p-value is ``2 / 2^r``: four rounds can never reach .05.

    Source: [Edgington2007]. Checked: tests/published/test_trial_randomisation.py
    """
    n_rounds, n_arms = block_values.shape
    if (np.sort(block_arms, axis=1) != np.arange(n_arms)).any():
        raise ValueError("every round must hold each arm exactly once")
    if n_rounds < 2:
        return None
    exact = n_round_orders(n_arms, n_rounds) <= EXACT_UP_TO
    places = _all_places(n_arms, n_rounds) if exact else np.argsort(round_orders(n_arms, n_rounds, rng)[0], axis=-1)
    rows = np.arange(n_rounds)

    def differences(at: Ints) -> Floats:
        return np.asarray((block_values[rows, at[..., arm]] - block_values[rows, at[..., 0]]).mean(axis=-1))

    observed = float(differences(np.argsort(block_arms, axis=-1)[None])[0])
    return _result(observed, differences(places), exact, 2.0 / 2.0**n_rounds)


@lru_cache(maxsize=4)
def _all_places(n_arms: int, n_rounds: int) -> Ints:
    """In every possible order, the block in which each arm stands: shape (orders, n_rounds, n_arms)."""
    return np.argsort(round_orders(n_arms, n_rounds, np.random.default_rng(0))[0], axis=-1)


def _result(observed: float, others: Floats, exact: bool, smallest: float) -> RandomisationResult:
    as_large = int(np.sum(np.abs(others) >= abs(observed) - 1e-12))
    p_value = as_large / len(others) if exact else (as_large + 1) / (len(others) + 1)
    return RandomisationResult(observed, p_value, len(others), smallest, exact)
