"""The order of shots of a planned trial: blocks of five, arms balanced within rounds and drawn at random."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
import polars as pl

from pipelines.measures.trial.sheet import VOID, WARM_UP

BLOCK_SHOTS = 5
WARM_UP_SHOTS = 8
LEAST_DAYS = 2
MOST_SHOTS_A_DAY = 80
MOST_SHOTS_AN_ARM = 400

DESIGN_SCHEMA: dict[str, pl.DataType] = {
    "day_no": pl.Int64(),
    "shot_no": pl.Int64(),
    "block_no": pl.Int64(),
    "round_no": pl.Int64(),
    "arm": pl.String(),
    "counts": pl.Boolean(),
    "closing": pl.Boolean(),
}
"""Columns of a design, in order."""


@dataclass(frozen=True)
class TrialDesign:
    """A planned trial.

    Attributes
    ----------
    arms : tuple of str
        Ordered by amount; normal among them.
    normal_arm : str
    n_days : int
    n_rounds : int
        Rounds a day; every round holds each arm once, as a block of five.
    seed : int
        The order comes out of this number again.
    shots : polars.DataFrame
        :data:`DESIGN_SCHEMA`; warm-up shots have ``counts`` false and no arm, the closing block of normal has ``closing`` true
        and no round.
    """

    arms: tuple[str, ...]
    normal_arm: str
    n_days: int
    n_rounds: int
    seed: int
    shots: pl.DataFrame

    @property
    def shots_per_arm(self) -> int:
        """Shots of each arm that are compared, the closing block apart."""
        return self.n_days * self.n_rounds * BLOCK_SHOTS


def trial_design(arms: tuple[str, ...], normal_arm: str, shots_per_arm: int, seed: int, n_days: int = LEAST_DAYS) -> TrialDesign:
    """A balanced random order of shots.

    Parameters
    ----------
    arms : tuple of str
        Two or more, ordered by amount.
    normal_arm : str
        One of them.
    shots_per_arm : int
        At least; rounded up to whole blocks on every day.
    seed : int
    n_days : int
        At least two. Days are added until no day has more than 80 shots, give or take a round.

    Returns
    -------
    TrialDesign

    Raises
    ------
    ValueError
        When there are fewer than two arms, two of the same name, one that a sheet could not name, no normal one, fewer than 10
        or more than 400 shots an arm, or fewer than two days.

    Notes
    -----
    Every day: 8 warm-up shots that do not count, rounds of one block of each arm in random order, and a closing block of
    normal, which shows whether the change has stuck to the normal swing. Random order within rounds: slow drift falls on all
    arms alike. Source: [TrialPractice], [Edgington2007]. Checked: tests/property/test_trial_design.py
    """
    _check(arms, normal_arm, shots_per_arm, n_days)
    a_day = len(arms) * BLOCK_SHOTS
    n_days = max(n_days, ceil(ceil(shots_per_arm / BLOCK_SHOTS) * a_day / MOST_SHOTS_A_DAY))
    n_rounds = ceil(shots_per_arm / BLOCK_SHOTS / n_days)
    rng = np.random.default_rng(seed)
    days = [_day(day_no, arms, normal_arm, n_rounds, rng) for day_no in range(1, n_days + 1)]
    return TrialDesign(arms, normal_arm, n_days, n_rounds, seed, pl.concat(days))


def _check(arms: tuple[str, ...], normal_arm: str, shots_per_arm: int, n_days: int) -> None:
    if len(arms) < 2 or len({arm.casefold() for arm in arms}) < len(arms):
        raise ValueError("a trial needs two or more arms with different names")
    unfit = [arm for arm in arms if "|" in arm or arm.casefold() in (*WARM_UP, *VOID)]
    if unfit:
        raise ValueError(f"{unfit[0]!r} is no name for an arm: | sets arms apart, warm-up and void are words of the sheet")
    if normal_arm not in arms:
        raise ValueError(f"normal ({normal_arm!r}) must be one of the arms")
    if not 10 <= shots_per_arm <= MOST_SHOTS_AN_ARM:
        raise ValueError(f"shots per arm must be 10 to {MOST_SHOTS_AN_ARM}")
    if n_days < LEAST_DAYS:
        raise ValueError("a change is not believed before a second day: plan two days or more")


def _day(day_no: int, arms: tuple[str, ...], normal_arm: str, n_rounds: int, rng: np.random.Generator) -> pl.DataFrame:
    orders = [rng.permutation(len(arms)) for _ in range(n_rounds)]
    blocks: list[tuple[int | None, int | None, str | None, bool, bool, int]] = [(None, None, None, False, False, WARM_UP_SHOTS)]
    for round_no, order in enumerate(orders, start=1):
        first = (round_no - 1) * len(arms) + 1
        blocks += [(first + i, round_no, arms[arm], True, False, BLOCK_SHOTS) for i, arm in enumerate(order)]
    blocks.append((n_rounds * len(arms) + 1, None, normal_arm, True, True, BLOCK_SHOTS))
    rows = [
        (day_no, 0, block_no, round_no, arm, counts, closing)
        for block_no, round_no, arm, counts, closing, size in blocks
        for _ in range(size)
    ]
    frame = pl.DataFrame(rows, schema=DESIGN_SCHEMA, orient="row")
    return frame.with_columns(pl.int_range(1, pl.len() + 1).cast(pl.Int64).alias("shot_no"))
