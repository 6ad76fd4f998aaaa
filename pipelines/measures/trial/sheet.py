"""The order of shots of a sheet as one line of text, and how far a session kept to it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from pipelines.measures.trial.alignment import alignment_costs

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

WARM_UP, VOID = ("warm-up", "warmup", "warm up"), ("void",)
_ITEM = re.compile(r"\s*(?:(?P<n>[1-9][0-9]{0,2})\s+)?(?P<word>.*?)\s*")
MOST_LINES = 500
MISLABELLED_SHARE = 0.10
LEAST_MISLABELLED = 3


@dataclass(frozen=True)
class OrderedShot:
    """One shot of an order.

    Attributes
    ----------
    arm : str or None
        None: warm-up, or void.
    block_no : int or None
        Counted up whenever the arm changes.
    counts : bool
    """

    arm: str | None
    block_no: int | None
    counts: bool


def arms_in(text: str) -> tuple[str, ...]:
    """The arms of a trial as its file names them: ``normal|wider``, the empty ones left out.

    Checked: tests/unit/test_alignment.py
    """
    return tuple(arm.strip() for arm in text.split("|") if arm.strip())


def typed_order(text: str, arms: Sequence[str]) -> list[OrderedShot]:
    """The order of one day from text: how many of which arm in turn, with commas.

    Parameters
    ----------
    text : str
        For example ``8 warm-up, 5 normal, 2 wider, void, 3 wider``. ``warm-up`` shots do not count; ``void`` is a shot that was
        struck and does not count, within the block in which it stands.
    arms : sequence of str
        The trial's; capital letters do not matter.

    Raises
    ------
    ValueError
        With the word that is no arm, or when there are none or more than 500 shots.

    Checked: tests/unit/test_trial_sheet.py
    """
    found: list[OrderedShot] = []
    block, last = 0, ""
    for item in text.split(","):
        match = _ITEM.fullmatch(item)
        word = match["word"] if match else item
        arm = next((arm for arm in arms if arm.casefold() == word.casefold()), None)
        if arm is None and word.casefold() not in (*WARM_UP, *VOID):
            raise ValueError(f"{word or 'an empty item'} is no arm of this trial")
        if arm is not None and arm != last:
            block, last = block + 1, arm
        shot = OrderedShot(arm, block if arm else None, arm is not None)
        found += [shot] * int((match["n"] if match else None) or 1)
    if not 1 <= len(found) <= MOST_LINES:
        raise ValueError(f"a day has 1 to {MOST_LINES} shots")
    return found


def order_text(arms_by_day: Iterable[Iterable[str | None]]) -> str:
    """The order as :func:`typed_order` reads it, days set apart by ``|``; None is a warm-up shot.

    Checked: tests/unit/test_trial_sheet.py
    """
    days = (", ".join(f"{len(list(run))} {arm or WARM_UP[0]}" for arm, run in groupby(day)) for day in arms_by_day)
    return " | ".join(days)


@dataclass(frozen=True)
class SheetCheck:
    """How far the shots kept to the sheet; counting shots of the days that were struck.

    Attributes
    ----------
    planned, struck : int
    differing : int
        Shots under another arm than the sheet has at their place, missing and additional shots aside.
    """

    planned: int
    struck: int
    differing: int

    @property
    def is_followed(self) -> bool:
        """Whether so few differ that the labels may be believed."""
        return self.differing < LEAST_MISLABELLED or self.differing <= MISLABELLED_SHARE * self.struck

    @property
    def shrinks_to(self) -> float:
        """What is left of a difference of two arms when the differing shots carry the wrong arm: ``1 - 2 w``, not below 0."""
        return max(0.0, 1.0 - 2.0 * self.differing / max(self.struck, 1))


def check_against_sheet(planned: Sequence[Sequence[str]], struck: Sequence[Sequence[str]]) -> SheetCheck:
    """Compare the arms of counting shots with the sheet, day by day in the order of time.

    Parameters
    ----------
    planned, struck : sequence of sequence of str
        Arm by arm for each day; days beyond the sheet are left out.

    Notes
    -----
    Edit distance less the difference of the two lengths: a shot that is missing or void costs nothing, one under another arm
    costs one. Source: [Needleman1970]. Checked: tests/unit/test_trial_sheet.py
    """
    pairs = list(zip(planned, struck, strict=False))
    differing = sum(_edits(first, second) - abs(len(first) - len(second)) for first, second in pairs)
    return SheetCheck(sum(len(first) for first, _ in pairs), sum(len(second) for _, second in pairs), differing)


def _edits(first: Sequence[str], second: Sequence[str]) -> int:
    """Least number of changes, insertions and deletions that make one sequence the other."""
    changed = np.array([[arm != other for other in second] for arm in first], dtype=np.float64)
    cost = alignment_costs(changed.reshape(len(first), len(second)), 1.0)
    return int(cost[-1, -1])  # whole steps, so whole costs
