"""The weekly form of four questions: score, gate, and what counts as substantial, in both published versions of the scoring."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

VALUES_2013 = {
    "participation": (0, 8, 17, 25),
    "modified": (0, 6, 13, 19, 25),
    "performance": (0, 6, 13, 19, 25),
    "symptoms": (0, 8, 17, 25),
}
VALUES_2020 = (0, 8, 17, 25)
"""Value lists, gate and cut-offs: second-hand from three independent copies, to be compared with the 2020 paper."""


@dataclass(frozen=True)
class ProblemScore:
    """One region in one week.

    Attributes
    ----------
    score : int or None
        0 (none) to 100; None when an answer that was due is missing.
    is_problem : bool or None
        Anything but full participation without a problem.
    is_substantial : bool or None
    reason : str
        ``""`` or ``answers_missing``.
    """

    score: int | None
    is_problem: bool | None
    is_substantial: bool | None
    reason: str


def score_2020(
    participation: int, modified: int | None = None, performance: int | None = None, symptoms: int | None = None
) -> ProblemScore:
    """Score of the form as revised in 2020, from answers 0 (none) to 3 (cannot, severe).

    Parameters
    ----------
    participation : int
        0 ends the form with score 0, 3 ends it with score 100.
    modified, performance, symptoms : int or None
        Asked only when participation is 1 or 2.

    Notes
    -----
    Every answer is worth 0, 8, 17 or 25. Substantial: cannot take part, or modified or performance at 17 or more.

    Source: [Clarsen2020] (values second-hand)
    Checked: tests/published/test_problem_form.py
    """
    if participation == 0:
        return ProblemScore(0, is_problem=False, is_substantial=False, reason="")
    if participation == 3:
        return ProblemScore(100, is_problem=True, is_substantial=True, reason="")
    if modified is None or performance is None or symptoms is None:
        return ProblemScore(None, is_problem=True, is_substantial=None, reason="answers_missing")
    score = sum(VALUES_2020[answer] for answer in (participation, modified, performance, symptoms))
    return ProblemScore(score, is_problem=True, is_substantial=max(modified, performance) >= 2, reason="")


def score_2013(participation: int, reduced: int, performance: int, symptoms: int) -> ProblemScore:
    """Score of the form as first published: participation and symptoms 0-3, reduced training and performance 0-4.

    Notes
    -----
    Participation and symptoms are worth 0, 8, 17, 25; the other two 0, 6, 13, 19, 25. Substantial: one of these two at 13 or
    more, or no participation.

    Source: [Clarsen2013] (values second-hand)
    Checked: tests/published/test_problem_form.py
    """
    values = VALUES_2013
    second, third = values["modified"][reduced], values["performance"][performance]
    score = values["participation"][participation] + second + third + values["symptoms"][symptoms]
    return ProblemScore(score, is_problem=score > 0, is_substantial=second >= 13 or third >= 13 or participation == 3, reason="")


def problem_scores(reports: pl.DataFrame) -> pl.DataFrame:
    """:func:`score_2020` of every report: adds score, is_problem, is_substantial; null where an answer that was due is missing.

    Parameters
    ----------
    reports : polars.DataFrame
        participation, modified, performance, symptoms, each 0-3, and any other columns.
    """
    worth = dict(enumerate(VALUES_2020))
    points = [
        pl.col(name).replace_strict(worth, default=None, return_dtype=pl.Int64)
        for name in ("participation", "modified", "performance", "symptoms")
    ]
    asked = pl.sum_horizontal(points, ignore_nulls=False)
    taking_part = pl.col("participation")
    return reports.with_columns(
        pl.when(taking_part == 0).then(0).when(taking_part == 3).then(100).otherwise(asked).alias("score"),
        (taking_part > 0).alias("is_problem"),
        pl.when(taking_part == 0)
        .then(pl.lit(value=False))
        .when(taking_part == 3)
        .then(pl.lit(value=True))
        .when(asked.is_not_null())
        .then((pl.col("modified") >= 2) | (pl.col("performance") >= 2))
        .alias("is_substantial"),
    )
