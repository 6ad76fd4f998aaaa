"""Cases: the same region reported week after week is one case."""

from __future__ import annotations

import polars as pl


def problem_cases(scored: pl.DataFrame) -> pl.DataFrame:
    """Runs of weekly reports of the same region.

    Parameters
    ----------
    scored : polars.DataFrame
        player_id, week_ending, region, score, is_problem, is_substantial, onset; as
        :func:`pipelines.measures.problems.score.problem_scores` returns them.

    Returns
    -------
    polars.DataFrame
        player_id, region, began_on (first week_ending), last_on, n_weeks, cumulative_score (sum of the weekly scores; null when
        one is unknown), worst_score, ever_substantial, onset (first that was given), sorted.

    Notes
    -----
    A week in which the form came back without this region, or with it at no problem, ends the case. A week without any form
    does not: it is unknown. A case thus begins after an answered week without the problem, or with the first form.

    Source: [Clarsen2013], [Clarsen2014]
    Checked: tests/published/test_problem_form.py
    """
    weeks = scored.select("player_id", "week_ending").unique().sort("player_id", "week_ending")
    numbered = weeks.with_columns(answered_no=pl.int_range(pl.len()).over("player_id"))
    reported = scored.filter("is_problem").join(numbered, on=["player_id", "week_ending"], how="left", maintain_order="left")
    ordered = reported.sort("player_id", "region", "week_ending")
    gap = pl.col("answered_no").diff().over("player_id", "region")
    run = (gap.is_null() | (gap > 1)).cum_sum().over("player_id", "region")
    return (
        ordered.with_columns(run=run)
        .group_by("player_id", "region", "run")
        .agg(
            began_on=pl.col("week_ending").min(),
            last_on=pl.col("week_ending").max(),
            n_weeks=pl.len().cast(pl.Int64),
            cumulative_score=pl.when(pl.col("score").is_not_null().all()).then(pl.col("score").sum()),
            worst_score=pl.col("score").max(),
            ever_substantial=pl.col("is_substantial").any(),
            onset=pl.col("onset").drop_nulls().first(),
        )
        .drop("run")
        .sort("player_id", "region", "began_on")
    )
