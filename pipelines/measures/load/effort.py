"""Which swings were at full effort: by the player's own distribution of club speed, not by a limit for all."""

from __future__ import annotations

import polars as pl

FULL_EFFORT_SHARE = 0.97
REFERENCE_QUANTILE = 0.90
REFERENCE_DAYS = 60
REFERENCE_AT_LEAST_DAYS = 3
"""Full effort: at least 97 % of the usual fast swing of the same club, which is the median, over the player's last 60 days with
that club (today excluded), of each day's 90th percentile. Own choice; the swing-to-swing spread of skilled players is near 1-2
%."""


def usual_fast_speed(shots: pl.DataFrame) -> pl.DataFrame:
    """The speed [m/s] of each player's usual fast swing by club and day, from days before it.

    Parameters
    ----------
    shots : polars.DataFrame
        player_id, on_date, club, club_speed_mps; rows without a speed are left out.

    Returns
    -------
    polars.DataFrame
        player_id, club, on_date, usual_fast_mps, sorted; null where fewer than 3 earlier days are known: the day's own 90th
        percentile stands in for it in :func:`full_effort`.
    """
    daily = (
        shots.filter(pl.col("club_speed_mps").is_not_null())
        .group_by("player_id", "club", "on_date")
        .agg(fast_mps=pl.col("club_speed_mps").quantile(REFERENCE_QUANTILE, "linear"))
        .sort("player_id", "club", "on_date")
    )
    usual = daily.rolling("on_date", period=f"{REFERENCE_DAYS}d", closed="left", group_by=["player_id", "club"]).agg(
        usual_fast_mps=pl.col("fast_mps").median(), n_days=pl.len()
    )
    enough = pl.when(pl.col("n_days") >= REFERENCE_AT_LEAST_DAYS).then("usual_fast_mps")
    joined = daily.join(usual, on=["player_id", "club", "on_date"], how="left", maintain_order="left")
    return joined.with_columns(usual_fast_mps=enough).select("player_id", "club", "on_date", "fast_mps", "usual_fast_mps")


def full_effort(shots: pl.DataFrame) -> pl.DataFrame:
    """Swings and full-effort swings of each session, from its shots.

    Parameters
    ----------
    shots : polars.DataFrame
        player_id, session_id, on_date, club, club_speed_mps.

    Returns
    -------
    polars.DataFrame
        session_id, n_shots, n_timed (shots with a club speed), n_full_effort (null when none was timed), sorted.

    Notes
    -----
    Full effort: speed at least ``0.97`` of the usual fast swing of the same player and club.
    """
    reference = usual_fast_speed(shots).with_columns(reference_mps=pl.coalesce("usual_fast_mps", "fast_mps"))
    marked = shots.join(reference, on=["player_id", "club", "on_date"], how="left", maintain_order="left")
    fast = pl.col("club_speed_mps") >= FULL_EFFORT_SHARE * pl.col("reference_mps")
    return (
        marked.group_by("session_id")
        .agg(n_shots=pl.len(), n_timed=pl.col("club_speed_mps").count(), n_full_effort=fast.sum())
        .with_columns(
            n_full_effort=pl.when(pl.col("n_timed") > 0).then(pl.col("n_full_effort").cast(pl.Int64)),
            n_shots=pl.col("n_shots").cast(pl.Int64),
            n_timed=pl.col("n_timed").cast(pl.Int64),
        )
        .sort("session_id")
    )
