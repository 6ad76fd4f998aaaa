"""The weekly form of four questions: Clarsen et al. 2013 and 2020 (values second-hand, three copies that agree; to be
verified).

Examples are own, scored by plain arithmetic.
"""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from pipelines.measures.problems.cases import problem_cases
from pipelines.measures.problems.score import problem_scores, score_2013, score_2020


def test_2013_example() -> None:
    # (8, 6, 13, 8) -> 35, substantial through the third answer.
    found = score_2013(1, 1, 2, 1)
    assert (found.score, found.is_substantial) == (35, True)


def test_2013_worst_and_none() -> None:
    assert score_2013(3, 4, 4, 3).score == 100
    assert (score_2013(0, 0, 0, 0).score, score_2013(0, 0, 0, 0).is_problem) == (0, False)


def test_2013_has_a_step_of_19_that_2020_has_not() -> None:
    assert score_2013(0, 3, 0, 0).score == 19
    assert score_2020(1, 3, 0, 0).score == 8 + 25


@pytest.mark.parametrize(
    ("answers", "score", "substantial"),
    [
        ((1, 1, 1, 1), 32, False),  # (8, 8, 8, 8)
        ((1, 2, 1, 2), 50, True),  # (8, 17, 8, 17)
        ((2, 1, 1, 1), 41, False),  # reduced participation alone is not enough
        ((1, 0, 2, 0), 25, True),
    ],
)
def test_2020_scores(answers: tuple[int, int, int, int], score: int, substantial: bool) -> None:
    found = score_2020(*answers)
    assert (found.score, found.is_substantial) == (score, substantial)


def test_2020_gate_ends_the_form_at_none_and_at_cannot() -> None:
    assert (score_2020(0).score, score_2020(0).is_problem) == (0, False)
    assert (score_2020(3).score, score_2020(3).is_substantial) == (100, True)
    assert (score_2020(1, 1, None, 1).score, score_2020(1, 1, None, 1).reason) == (None, "answers_missing")


def test_the_frame_agrees_with_the_single_form() -> None:
    rows = [(p, m, f, s) for p in range(4) for m in (None, 0, 2) for f in (0, 1, 3) for s in (0, 3)]
    names = ("participation", "modified", "performance", "symptoms")
    scored = problem_scores(pl.DataFrame(rows, schema=dict.fromkeys(names, pl.Int64), orient="row"))
    for row, form in zip(scored.iter_rows(named=True), rows, strict=True):
        single = score_2020(*form)
        assert (row["score"], row["is_problem"], row["is_substantial"]) == (
            single.score,
            single.is_problem,
            single.is_substantial,
        )


def _weeks(forms: list[tuple[int, str, int, int, int, int]]) -> pl.DataFrame:
    names = ("week", "region", "participation", "modified", "performance", "symptoms")
    rows = pl.DataFrame(forms, schema=names, orient="row")
    first = date(2026, 3, 1)
    return problem_scores(
        rows.with_columns(
            pl.lit("P1").alias("player_id"),
            pl.Series("week_ending", [first + timedelta(weeks=week) for week in rows["week"]]),
            pl.lit("gradual").alias("onset"),
        )
    )


def test_a_case_sums_its_weeks() -> None:
    # Weekly scores 32, 50, 25, 0: cumulative 107 over 3 weeks.
    answers = [(1, 1, 1, 1), (1, 2, 1, 2), (1, 0, 2, 0), (0, 0, 0, 0)]
    forms = [(week, "lower_back", *answer) for week, answer in enumerate(answers)]
    case = problem_cases(_weeks(forms)).row(0, named=True)
    assert (case["n_weeks"], case["ever_substantial"]) == (3, True)
    assert case["cumulative_score"] == 107


def test_a_week_without_the_problem_ends_a_case_and_a_week_without_a_form_does_not() -> None:
    answered = [(0, "neck", 1, 1, 1, 1), (1, "other", 0, 0, 0, 0), (2, "neck", 1, 1, 1, 1)]
    assert problem_cases(_weeks(answered)).height == 2
    silent = [(0, "neck", 1, 1, 1, 1), (2, "neck", 1, 1, 1, 1)]
    assert problem_cases(_weeks(silent)).height == 1
