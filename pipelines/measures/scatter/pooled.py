"""Spread within sessions, brought together over several sessions."""

from __future__ import annotations

import numpy as np
import polars as pl
from scipy.special import ndtri, stdtrit

SHOT_VARIANCE = 0.6
"""Variance of the logarithm of a standard deviation, times the shots behind it."""


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


def pooled_reach(sessions: pl.DataFrame, n: str, spread: str, by: str) -> pl.DataFrame:
    """By which factor the 90 % interval of :func:`pooled_spread` reaches up and down.

    Parameters
    ----------
    sessions : polars.DataFrame
    n, spread : str
        As of :func:`pooled_spread`.
    by : str
        Column of groups.

    Returns
    -------
    polars.DataFrame
        The group and ``reach`` (1 and more): null where no session has a spread, or none but zero.

    Notes
    -----
    The logarithm errs by the larger of what so many shots leave, ``sqrt(.6 / sum(n_i - 1))`` (.5 for normal shots, and tails are
    heavier), and of what m sessions differ by, ``sqrt(m / (m - 1) sum((n_i - 1)**2 (s_i**2 - s**2)**2)) / (2 s**2 sum(n_i - 1))``
    with the quantile of t of m - 1: days that are wide or narrow as a whole, and mishits, show in how far sessions lie apart.

    Source: [NistPooled] for the spread; the delta method for its logarithm, sessions as clusters; .6 is ours.
    Checked: tests/published/test_pooled_spread.py
    """
    told = pl.col(spread).is_not_null() & (pl.col(n) > 1)
    weight, variance = pl.when(told).then(pl.col(n) - 1), pooled_spread(n, spread) ** 2
    apart = (weight * (pl.col(spread) ** 2 - variance)) ** 2
    found = sessions.group_by(by).agg(m=told.sum(), shots=weight.sum(), variance=variance, apart=apart.sum())
    found = found.filter(pl.col("variance") > 0).sort(by)
    m, shots, within, between = (found[name].to_numpy().astype(float) for name in ("m", "shots", "variance", "apart"))
    others = np.maximum(m - 1.0, 1.0)
    by_session = stdtrit(others, 0.95) * np.sqrt(m / others * between) / (2.0 * within * shots)
    by_shot = ndtri(0.95) * np.sqrt(SHOT_VARIANCE / shots)
    return found.select(by, reach=pl.Series(np.exp(np.maximum(by_shot, by_session))))


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
        player_id, n_shots_28, lateral_spread_28_m with the ends of its 90 % interval, lateral_spread_low_m and
        lateral_spread_high_m [m]; null as in :func:`pooled_spread` and :func:`pooled_reach`.

    Notes
    -----
    Source: [NistPooled]
    Checked: tests/published/test_pooled_spread.py
    """
    found = sessions.group_by("player_id").agg(
        n_shots_28=pl.col("club_speed_mps_n").sum(),
        lateral_spread_28_m=pooled_spread("offline_m_n", "offline_m_spread"),
    )
    reach = pooled_reach(sessions, "offline_m_n", "offline_m_spread", "player_id")
    low, high = pl.col("lateral_spread_28_m") / pl.col("reach"), pl.col("lateral_spread_28_m") * pl.col("reach")
    found = found.join(reach, on="player_id", how="left", maintain_order="left")
    return found.with_columns(lateral_spread_low_m=low, lateral_spread_high_m=high).drop("reach").sort("player_id")
