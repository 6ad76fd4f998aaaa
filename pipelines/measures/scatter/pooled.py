"""Spread within sessions, brought together over several sessions."""

from __future__ import annotations

import polars as pl


def pooled_spread(n: str, spread: str) -> pl.Expr:
    """Standard deviation within sessions, pooled over the sessions of a group [unit of the spread].

    Parameters
    ----------
    n, spread : str
        Columns: shots behind the spread of each session, and that spread; a session whose spread is null has no part in it.

    Returns
    -------
    polars.Expr
        Null when no session has a spread.

    Notes
    -----
    ``s = sqrt(sum((n_i - 1) * s_i**2) / sum(n_i - 1))``: sessions may differ in their middle, which is not part of it; what
    they share is the spread about it.

    Source: [NistPooled]
    Checked: tests/published/test_pooled_spread.py
    """
    weight = pl.when(pl.col(spread).is_not_null()).then(pl.col(n) - 1)
    total = weight.sum()
    return pl.when(total > 0).then(((weight * pl.col(spread) ** 2).sum() / total).sqrt())


def month_spread(sessions: pl.DataFrame) -> pl.DataFrame:
    """Left-right and long-short spread within the sessions of each month, by player and group of clubs.

    Parameters
    ----------
    sessions : polars.DataFrame
        player_id, club_group, month_on, offline_m_n, offline_m_spread [m], carry_m_n, carry_m_spread [m].

    Returns
    -------
    polars.DataFrame
        player_id, club_group, month_on, lateral_spread_m, depth_spread_m [m]; null as in :func:`pooled_spread`.

    Notes
    -----
    Source: [NistPooled]
    Checked: tests/published/test_pooled_spread.py
    """
    grain = ["player_id", "club_group", "month_on"]
    return (
        sessions.group_by(grain)
        .agg(
            lateral_spread_m=pooled_spread("offline_m_n", "offline_m_spread"),
            depth_spread_m=pooled_spread("carry_m_n", "carry_m_spread"),
        )
        .sort(grain)
    )


def recent_spread(sessions: pl.DataFrame) -> pl.DataFrame:
    """Left-right spread within the sessions of each player, and the shots with a club speed.

    Parameters
    ----------
    sessions : polars.DataFrame
        player_id, club_speed_mps_n, offline_m_n, offline_m_spread [m] of the days looked at.

    Returns
    -------
    polars.DataFrame
        player_id, n_shots_28, lateral_spread_28_m [m]; null as in :func:`pooled_spread`.

    Notes
    -----
    Source: [NistPooled]
    Checked: tests/published/test_pooled_spread.py
    """
    return (
        sessions.group_by("player_id")
        .agg(
            n_shots_28=pl.col("club_speed_mps_n").sum(),
            lateral_spread_28_m=pooled_spread("offline_m_n", "offline_m_spread"),
        )
        .sort("player_id")
    )
