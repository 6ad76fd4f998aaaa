"""The weekly form of four questions: Clarsen et al. 2013 and 2020 (values second-hand, three copies that agree; to be
verified).

Examples are own, scored by plain arithmetic.
"""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from pipelines.measures.problems.cases import problem_cases
from pipelines.measures.problems.score import problem_scores


def scored(*answers: int | None) -> tuple[int | None, bool | None, bool | None]:
    names = ("participation", "modified", "performance", "symptoms")
    padded = [*answers, *[None] * (4 - len(answers))]
    row = problem_scores(pl.DataFrame([padded], schema=dict.fromkeys(names, pl.Int64), orient="row")).row(0, named=True)
    return row["score"], row["is_problem"], row["is_substantial"]


@pytest.mark.parametrize(
    ("answers", "score", "substantial"),
    [
        ((1, 1, 1, 1), 32, False),  # (8, 8, 8, 8)
        ((1, 2, 1, 2), 50, True),  # (8, 17, 8, 17)
        ((2, 1, 1, 1), 41, False),  # reduced participation alone is not enough
        ((1, 0, 2, 0), 25, True),
        ((1, 3, 0, 0), 33, True),  # 8 + 25: the revised form has no step of 19
    ],
)
def test_scores(answers: tuple[int, int, int, int], score: int, substantial: bool) -> None:
    assert scored(*answers) == (score, True, substantial)


def test_the_gate_ends_the_form_at_none_and_at_cannot() -> None:
    assert scored(0) == (0, False, False)
    assert scored(3) == (100, True, True)
    assert scored(1, 1, None, 1) == (None, True, None)


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
