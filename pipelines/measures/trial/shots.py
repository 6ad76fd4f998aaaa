"""The shots of one trial as arrays: arm, session, block and place of every shot, and what was measured."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.trial.regression import TrialLayout
from pipelines.measures.worthwhile import WORTHWHILE

Floats = NDArray[np.float64]

SHOT_COLUMNS: tuple[str, ...] = (
    "session_id", "on_date", "struck_at", "shot_no", "arm", "block_no", "device_id", "club", "ball",
)  # fmt: skip
"""Columns that a frame of trial shots must have, beside the measurements."""

LONGEST_DRAWN = 8


@dataclass(frozen=True)
class TrialQuestion:
    """What was to be found out.

    Attributes
    ----------
    trial_id, player_id : str
    question : str
        The one thing that changes; empty when only the shots name the trial.
    normal_arm : str
    arms : tuple of str
        In the order of the amount of the change; normal among them.
    """

    trial_id: str
    player_id: str
    question: str
    normal_arm: str
    arms: tuple[str, ...]

    @property
    def changed(self) -> tuple[str, ...]:
        """The arms other than normal, in their order."""
        return tuple(arm for arm in self.arms if arm != self.normal_arm)

    @property
    def in_order(self) -> tuple[str, ...]:
        """Normal first, then the changed arms: the numbering of arms inside the analysis."""
        return (self.normal_arm, *self.changed)

    def amount(self, arm: str) -> int:
        """Steps of the change from normal; below 0 on the other side of it."""
        return self.arms.index(arm) - self.arms.index(self.normal_arm)


@dataclass(frozen=True)
class TrialShots:
    """The counting shots of one trial in the order in which they were struck.

    Attributes
    ----------
    frame : polars.DataFrame
        One row per shot: :data:`SHOT_COLUMNS`, the measurements, ``arm_index``, ``session_index``, ``block_index``, ``position``.
    arms : tuple of str
        Arm by ``arm_index``; only arms that have shots, normal first.
    """

    frame: pl.DataFrame
    arms: tuple[str, ...]

    @cached_property
    def layout(self) -> TrialLayout:
        """Arm, session, block and place as arrays."""
        columns = (self.frame[name].to_numpy() for name in ("arm_index", "session_index", "block_index", "position"))
        arm, session, block, position = columns
        return TrialLayout(arm.astype(np.int64), session.astype(np.int64), block.astype(np.int64), position, len(self.arms))

    def values(self, metric: str) -> Floats:
        """One measurement, shape (n,); NaN where it is missing."""
        return self.frame[metric].cast(pl.Float64).to_numpy()

    def measured(self, metric: str) -> bool:
        """Whether at least one shot has this measurement."""
        return metric in self.frame.columns and self.frame[metric].count() > 0

    @cached_property
    def rounds(self) -> list[list[int]]:
        """Rounds: unbroken series of blocks of one session that hold every arm once, as lists of ``block_index``."""
        blocks = (
            self.frame.group_by("block_index", maintain_order=True)
            .agg(pl.col("session_index").first(), pl.col("arm_index").first())
            .rows()
        )
        found, at, size = [], 0, len(self.arms)
        while at + size <= len(blocks):
            part = blocks[at : at + size]
            if len({row[1] for row in part}) == 1 and len({row[2] for row in part}) == size:
                found.append([int(row[0]) for row in part])
                at += size
            else:
                at += 1
        return found

    @cached_property
    def is_mixed(self) -> bool:
        """Whether the order of arms can have been drawn at random: two rounds or more, and not one order throughout.

        Two rounds may agree by chance, unless their blocks are long: nobody draws blocks of more than 8 shots.
        """
        orders = self._orders
        return len(orders) >= 2 and (len(set(orders)) > 1 or (len(orders) < 4 and self._has_short_blocks))

    @cached_property
    def is_drawn_alike(self) -> bool:
        """Whether four rounds or more have one order throughout, of blocks as they are drawn: chance can make a sheet so."""
        return len(self._orders) >= 4 and len(set(self._orders)) == 1 and self._has_short_blocks

    @cached_property
    def _orders(self) -> list[tuple[int, ...]]:
        arm_of = dict(self.frame.unique("block_index", maintain_order=True).select("block_index", "arm_index").rows())
        return [tuple(arm_of[block] for block in part) for part in self.rounds]

    @cached_property
    def _has_short_blocks(self) -> bool:
        longest = int(self.frame.group_by("block_index").len()["len"].max() or 0)  # type: ignore[arg-type]
        return longest <= LONGEST_DRAWN


def in_order_struck(frame: pl.DataFrame) -> pl.DataFrame:
    """Rows with ``session_id``, ``struck_at`` and ``shot_no`` in the order of time, one session after the other."""
    began = pl.col("struck_at").min().over("session_id")
    return frame.sort(began, "session_id", "struck_at", "shot_no")


def trial_shots(frame: pl.DataFrame, question: TrialQuestion) -> TrialShots:
    """Order the counting shots of a trial, and number their arms, sessions and blocks.

    Parameters
    ----------
    frame : polars.DataFrame
        :data:`SHOT_COLUMNS` and any of the measurements of :data:`WORTHWHILE`; shots that do not count left out. Shots of an
        arm that the question does not name are left out.
    question : TrialQuestion

    Returns
    -------
    TrialShots
        Blocks are those of ``block_no``; where it is missing, every unbroken run of one arm is a block.

    Checked: tests/unit/test_trial_shots.py
    """
    present = set(frame["arm"].drop_nulls().to_list())
    arms = tuple(arm for arm in question.in_order if arm in present)
    missing = [name for name in WORTHWHILE if name not in frame.columns]
    known = (
        frame.with_columns(pl.lit(None, dtype=pl.Float64).alias(name) for name in missing)
        .with_columns((pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio"))
        .filter(pl.col("arm").is_in(list(arms)))
        .pipe(in_order_struck)
    )
    run = (
        (pl.col("session_id") != pl.col("session_id").shift(1))
        | (pl.col("arm") != pl.col("arm").shift(1))
        | (pl.col("block_no").fill_null(-1) != pl.col("block_no").fill_null(-1).shift(1))
    ).fill_null(value=True)
    place = pl.int_range(pl.len()).over("session_id")
    numbered = known.with_columns(
        pl.col("arm")
        .replace_strict({arm: i for i, arm in enumerate(arms)}, default=None, return_dtype=pl.Int64)
        .alias("arm_index"),
        (pl.col("session_id") != pl.col("session_id").shift(1))
        .fill_null(value=False)
        .cum_sum()
        .cast(pl.Int64)
        .alias("session_index"),
        (run.cast(pl.Int64).cum_sum() - 1).alias("block_index"),
        (2.0 * place / pl.max_horizontal(pl.len().over("session_id") - 1, 1) - 1.0).alias("position"),
    )
    return TrialShots(numbered, arms)
