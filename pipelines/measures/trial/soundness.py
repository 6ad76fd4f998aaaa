"""What a trial cannot answer, and where it is weak: statements that stand in place of a verdict, and notes beside it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy.special import stdtr

from pipelines.measures.worthwhile import STARTING

if TYPE_CHECKING:
    from pipelines.measures.trial.shots import TrialQuestion, TrialShots
    from pipelines.measures.worthwhile import Worthwhile

LEAST_SHOTS = 6
LEAST_BLOCKS = 2
WARM_UP_SHOTS = 5
COLD_START = 0.65
FULL_BLOCKS = 16
MOST_DAYS_APART = 28
"""Days between two days of a trial beyond which it is said that they lie far apart (own choice)."""
JOINS = re.compile(r"\b(and|und|plus)\b|[&;]|\s\+\s", re.IGNORECASE)

STATEMENTS: tuple[str, ...] = (
    "one_arm",
    "no_normal",
    "too_few_shots",
    "unknown_arm",
    "sheet_not_followed",
    "devices_differ",
    "arms_apart",
    "two_changes",
    "warm_up_counted",
    "no_speed",
)
"""Reasons for which there is no verdict, gravest first."""

NOTES: tuple[str, ...] = (
    "one_day",
    "not_random",
    "same_order",
    "few_blocks",
    "unequal_arms",
    "no_warm_up_marked",
    "no_carry",
    "no_direction",
    "arm_left_out",
    "device_changed",
    "days_far_apart",
    "sheet_unreadable",
)
"""Weaknesses that are said beside the verdict."""


@dataclass(frozen=True)
class Soundness:
    """What stands against a trial.

    Attributes
    ----------
    statements : tuple of str
        Codes of :data:`STATEMENTS`; any of them takes the place of the verdict.
    notes : tuple of str
        Codes of :data:`NOTES`.
    usable : tuple of str
        Arms that can be compared, normal first.
    """

    statements: tuple[str, ...]
    notes: tuple[str, ...]
    usable: tuple[str, ...]


def soundness(
    shots: TrialShots,
    question: TrialQuestion,
    *,
    warm_up_sessions: frozenset[str],
    overlapping: bool,
    labels: tuple[str, ...] = (),
    speed: Worthwhile = STARTING.by_measurement["club_speed_mps"],
) -> Soundness:
    """Look for what would make a verdict unfair.

    Parameters
    ----------
    shots : TrialShots
    question : TrialQuestion
    warm_up_sessions : frozenset of str
        Sessions in which shots are marked as not counting.
    overlapping : bool
        Another trial of the same player changed something else in the same sessions.
    labels : tuple of str
        Statements about the labels of the shots, from what was declared: ``unknown_arm``, ``sheet_not_followed``.

    Returns
    -------
    Soundness

    Notes
    -----
    An arm needs 6 counting shots in 2 blocks. Two changes at once: another trial in the same sessions, a club or ball that
    goes with the arm, or a question that joins two things ("and", "+", "&", ";"). Warm-up counted: no shot of the session is
    marked as warm-up, the trial begins within its first five shots, and those are slower than the rest by half the smallest
    worthwhile change with a probability above .65. Source: [TrialPractice]. Checked: tests/unit/test_trial_soundness.py
    """
    usable = _usable_arms(shots)
    statements = [*_arm_statements(shots, question, usable)]
    if not statements:
        statements += labels
        statements += _mixed_up(shots, question, usable, overlapping=overlapping)
        statements += ["warm_up_counted"] if _cold_start_counted(shots, warm_up_sessions, speed) else []
        statements += [] if shots.measured("club_speed_mps") else ["no_speed"]
    notes = _notes(shots, usable, warm_up_sessions)
    return Soundness(tuple(statements), tuple(notes), usable)


def _usable_arms(shots: TrialShots) -> tuple[str, ...]:
    counted = {
        arm: (n, blocks) for arm, n, blocks in shots.frame.group_by("arm").agg(pl.len(), pl.col("block_index").n_unique()).rows()
    }
    return tuple(arm for arm in shots.arms if counted[arm][0] >= LEAST_SHOTS and counted[arm][1] >= LEAST_BLOCKS)


def _arm_statements(shots: TrialShots, question: TrialQuestion, usable: tuple[str, ...]) -> list[str]:
    if len(shots.arms) < 2:
        return ["one_arm"]
    if question.normal_arm not in shots.arms:
        return ["no_normal"]
    if len(usable) < 2 or question.normal_arm not in usable:
        return ["too_few_shots"] if _fewest(shots) < LEAST_SHOTS or len(shots.frame) < 2 * LEAST_SHOTS else ["arms_apart"]
    return []


def _fewest(shots: TrialShots) -> int:
    return int(shots.frame.group_by("arm").len()["len"].min() or 0)  # type: ignore[arg-type]


def _mixed_up(shots: TrialShots, question: TrialQuestion, usable: tuple[str, ...], *, overlapping: bool) -> list[str]:
    found = []
    if _goes_with_arm(shots.frame, "device_id", usable):
        found.append("devices_differ")
    elif _goes_with_arm(shots.frame, "session_id", usable):
        found.append("arms_apart")
    joined = JOINS.search(question.question) is not None
    if overlapping or joined or any(_goes_with_arm(shots.frame, name, usable) for name in ("club", "ball")):
        found.append("two_changes")
    return found


def _goes_with_arm(frame: pl.DataFrame, column: str, usable: tuple[str, ...]) -> bool:
    """Whether some usable arm shares no value of the column with normal: then the two cannot be told apart."""
    seen = {
        arm: set(values)
        for arm, values in frame.group_by("arm").agg(pl.col(column).fill_null("?").unique()).rows()
        if arm in usable
    }
    return any(seen[usable[0]].isdisjoint(seen[arm]) for arm in usable[1:])


def _unmarked(shots: TrialShots, warm_up_sessions: frozenset[str]) -> pl.DataFrame:
    """The shots of sessions without a marked warm-up in which the trial begins within the first five shots."""
    return shots.frame.filter(
        ~pl.col("session_id").is_in(sorted(warm_up_sessions)) & (pl.col("shot_no").min().over("session_id") <= WARM_UP_SHOTS)
    )


def _cold_start_counted(shots: TrialShots, warm_up_sessions: frozenset[str], worth: Worthwhile) -> bool:
    unmarked = _unmarked(shots, warm_up_sessions)
    if unmarked.is_empty() or unmarked["club_speed_mps"].count() < 3 * WARM_UP_SHOTS:
        return False
    speed = pl.col("club_speed_mps")
    centred = unmarked.drop_nulls("club_speed_mps").with_columns(
        (speed - speed.mean().over("session_id", "arm") + speed.mean().over("session_id")).alias("level")
    )
    first = pl.col("shot_no") < pl.col("shot_no").min().over("session_id") + WARM_UP_SHOTS
    early, late = (centred.filter(keep)["level"].to_numpy() for keep in (first, ~first))
    if len(early) < 3 or len(late) < 6:
        return False
    se = float(late.std(ddof=1) * np.sqrt(1 / len(early) + 1 / len(late)))
    threshold = 0.5 * worth.at(float(late.mean()))
    return bool(stdtr(len(late) - 1, (late.mean() - early.mean() - threshold) / max(se, 1e-9)) > COLD_START)


def _longest_gap(days: pl.Series) -> int:
    """Days from one day to the next, where that is longest."""
    return max((days.unique().sort().diff().drop_nulls().dt.total_days()), default=0)


def _notes(shots: TrialShots, usable: tuple[str, ...], warm_up_sessions: frozenset[str]) -> list[str]:
    frame = shots.frame
    sizes = frame.filter(pl.col("arm").is_in(list(usable))).group_by("arm").len()["len"].to_list() or [1]
    several = len(shots.arms) > 1
    found = {
        "one_day": frame["on_date"].n_unique() < 2,
        "not_random": several and not shots.is_mixed and not shots.is_drawn_alike,
        "same_order": several and shots.is_drawn_alike,
        "few_blocks": frame["block_index"].n_unique() < FULL_BLOCKS * len(shots.arms) / 2,
        "unequal_arms": max(sizes) > 2 * min(sizes),
        "no_warm_up_marked": not _unmarked(shots, warm_up_sessions).is_empty(),
        "no_carry": not shots.measured("carry_m"),
        "no_direction": not shots.measured("offline_m"),
        "arm_left_out": len(usable) < len(shots.arms),
        "device_changed": frame["device_id"].drop_nulls().n_unique() > 1 and not _goes_with_arm(frame, "device_id", usable),
        "days_far_apart": _longest_gap(frame["on_date"]) > MOST_DAYS_APART,
        "sheet_unreadable": False,
    }
    return [code for code in NOTES if found[code]]
