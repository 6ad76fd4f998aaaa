"""The weekly form of four questions: score, gate, and what counts as substantial, in both published versions of the scoring."""

from __future__ import annotations

import polars as pl

VALUES_2020 = (0, 8, 17, 25)
"""Value lists, gate and cut-offs: second-hand from three independent copies, to be compared with the 2020 paper."""


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
