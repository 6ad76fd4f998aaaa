"""How many players have a problem, week by week, with its interval."""

from __future__ import annotations

from typing import TypeVar

import polars as pl
from scipy.special import ndtri

T = TypeVar("T", float, pl.Expr)


def _wilson_bounds(n_with: T, n_total: T, level: float) -> tuple[T, T]:
    """Both ends, of numbers or of columns, not yet cut to 0 and 1."""
    z = float(ndtri(0.5 + level / 2))
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
