"""How many players have a problem, week by week, with its interval."""

from __future__ import annotations

from typing import TypeVar

import polars as pl
from scipy import stats

T = TypeVar("T", float, pl.Expr)


def wilson_interval(n_with: int, n_total: int, level: float = 0.95) -> tuple[float, float] | None:
    """Interval of a proportion by Wilson's score method, 0 to 1; None without anybody.

    Raises
    ------
    ValueError
        When ``n_with`` lies outside 0 to ``n_total``.

    Notes
    -----
    ``(p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n)``.

    Source: [Wilson1927]
    Checked: tests/published/test_prevalence.py
    """
    if not 0 <= n_with <= n_total:
        raise ValueError(f"{n_with} of {n_total} is not a share")
    if n_total == 0:
        return None
    low, high = _wilson_bounds(float(n_with), float(n_total), level)
    return max(0.0, low), min(1.0, high)


def _wilson_bounds(n_with: T, n_total: T, level: float) -> tuple[T, T]:
    """Both ends, of numbers or of columns, not yet cut to 0 and 1."""
    z = float(stats.norm.ppf(0.5 + level / 2))
    p = n_with / n_total
    centre = p + z * z / (2 * n_total)
    half = z * (p * (1 - p) / n_total + z * z / (4 * n_total * n_total)) ** 0.5
    scale = 1 + z * z / n_total
    return (centre - half) / scale, (centre + half) / scale


def weekly_prevalence(scored: pl.DataFrame) -> pl.DataFrame:
    """Share of the players who sent the form that reported a problem, and a substantial one, week by week.

    Parameters
    ----------
    scored : polars.DataFrame
        player_id, week_ending, is_problem, is_substantial.

    Returns
    -------
    polars.DataFrame
        week_ending, n_answered, n_any, n_substantial, share_any, any_low, any_high, share_substantial, substantial_low,
        substantial_high; shares 0 to 1 with 95 % Wilson intervals.

    Notes
    -----
    The divisor is the players who answered, not the squad: who did not answer is unknown.

    Source: [Clarsen2013], [Wilson1927]
    Checked: tests/published/test_prevalence.py
    """
    by_player = scored.group_by("week_ending", "player_id").agg(
        any=pl.col("is_problem").any(), substantial=pl.col("is_substantial").fill_null(value=False).any()
    )
    weeks = (
        by_player.group_by("week_ending")
        .agg(
            n_answered=pl.len().cast(pl.Int64),
            n_any=pl.col("any").sum().cast(pl.Int64),
            n_substantial=pl.col("substantial").sum().cast(pl.Int64),
        )
        .sort("week_ending")
    )
    return weeks.with_columns(*_share_columns("any"), *_share_columns("substantial"))


def _share_columns(name: str) -> list[pl.Expr]:
    n_with, n_answered = pl.col(f"n_{name}"), pl.col("n_answered")
    low, high = _wilson_bounds(n_with, n_answered, 0.95)
    return [
        (n_with / n_answered).alias(f"share_{name}"),
        low.clip(0.0, 1.0).alias(f"{name}_low"),
        high.clip(0.0, 1.0).alias(f"{name}_high"),
    ]


def mean_prevalence(weeks: pl.DataFrame, column: str) -> float | None:
    """Mean over the weeks of a weekly share, 0 to 1; None without a week. The mean of weeks, not the pooled share, is reported.

    Source: [Clarsen2013]
    Checked: tests/published/test_prevalence.py
    """
    return weeks[column].mean() if weeks.height else None  # type: ignore[return-value] # a mean of floats is a float


def response_rate(n_answered: int, n_due: int) -> float | None:
    """Forms that came back over forms that were due, 0 to 1; None when none was due."""
    return n_answered / n_due if n_due else None
