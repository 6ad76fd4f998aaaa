"""The trade-off beside a published simulation: strokes that two golfers save by distance or direction, printed and computed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

from pipelines.measures.strokes import YARD_M, DrivePattern, course_strokes
from pipelines.measures.tables import published_table
from schemas.course import TREE_LINED_COURSE, Course, Side

Trouble = Literal["trees", "no_trees", "rough_only"]

GOLFERS: dict[str, tuple[float, float]] = {"100": (225.0, 7.9), "80": (250.6, 5.5)}
"""Drive [yd] and standard deviation of direction [°] of the two golfers of the simulation, by standard."""
LONG_SHORT_SHARE = 0.06
"""Long-short standard deviation over distance, which is not printed: own choice, a tenth of a stroke at most."""


@dataclass(frozen=True)
class PrintedSaving:
    """One printed cell and what is computed for it.

    Attributes
    ----------
    trouble : str
        trees, no_trees (rough, water and out of bounds) or rough_only.
    standard : str
        Golfer: 80 or 100.
    further_yd, straighter_deg : float
        What gets better: distance [yd] or standard deviation of direction [°]; the other is 0.
    printed, computed : float
        Strokes saved a round.
    is_calibrated : bool
        A value of the program was chosen by this cell, which is then no check of it.
    """

    trouble: Trouble
    standard: str
    further_yd: float
    straighter_deg: float
    printed: float
    computed: float
    is_calibrated: bool


@cache
def printed_savings() -> tuple[PrintedSaving, ...]:
    """All printed cells for both golfers, with the strokes that this program computes on its tree-lined course.

    Returns
    -------
    tuple of PrintedSaving
        In the order of the printed table, the 100-golfer first.

    Notes
    -----
    The courses of the simulation are not printed; its trees, no trees and rough only are the tree-lined default, the same
    without trees, and the same with rough alone. Source: [Broadie2012].
    Checked: tests/published/test_strokes.py::test_no_printed_saving_is_farther_off_than_the_page_says.

    Calibrated: [BroadieKo2009], both cells of rough only, by which the standard of 100 was chosen.
    """
    rows = published_table("broadie_ko2009_strokes_saved").iter_rows(named=True)
    return tuple(
        _saving(row["course"].replace(" ", "_"), standard, row["change"], row[f"saved_{standard}_golfer"])
        for row in rows
        for standard in GOLFERS
        if row[f"saved_{standard}_golfer"] is not None
    )


def _saving(trouble: Trouble, standard: str, change: str, printed: float) -> PrintedSaving:
    amount, unit = change.split()
    yards, degrees = (float(amount), 0.0) if unit == "yd" else (0.0, -float(amount))
    drive_yd, sd_deg = GOLFERS[standard]
    total = drive_yd * YARD_M
    now = DrivePattern(total, 0.0, LONG_SHORT_SHARE * total, sd_deg)
    better = replace(now, total_m=total + yards * YARD_M, direction_sd_deg=sd_deg - degrees)
    strokes = [found.per_round for found in course_strokes([now, better], _course(trouble), standard)]
    calibrated = trouble == "rough_only"
    return PrintedSaving(trouble, standard, yards, degrees, printed, strokes[0] - strokes[1], calibrated)


def _course(trouble: Trouble) -> Course:
    if trouble == "trees":
        return TREE_LINED_COURSE

    def without(side: Side) -> Side:
        return Side() if trouble == "rough_only" else replace(side, trees_from_m=None)

    shots = (replace(shot, left=without(shot.left), right=without(shot.right)) for shot in TREE_LINED_COURSE.tee_shots)
    return replace(TREE_LINED_COURSE, tee_shots=tuple(shots))
