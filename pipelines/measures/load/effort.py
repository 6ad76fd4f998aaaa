"""Which swings were at full effort: by the player's own distribution of club speed, not by a limit for all."""

from __future__ import annotations

import polars as pl

_STREAM = ("player_id", "club", "device_id")
FULL_EFFORT_SHARE = 0.985
REFERENCE_DAYS = 60
REFERENCE_AT_LEAST_DAYS = 3
"""Full effort: at least 98.5 % of the usual fast swing with the same club on the same device, which is the median, over the
player's last 60 days with them (today excluded), of each day's 90th percentile (the view ``fast_swing_day``). In an ordinary
session somewhat less than half of the swings are, in one of full intent nearly all. Nearer to 100 % the count would follow the
form of the day more than the intent. Own choice."""


def usual_fast_speed(daily: pl.DataFrame) -> pl.DataFrame:
    """The speed [m/s] of each player's usual fast swing by club and day, from days before it.

    Parameters
    ----------
    daily : polars.DataFrame
        player_id, club, device_id, on_date, fast_mps: the 90th percentile of a day's swings; one row a day.

    Returns
    -------
    polars.DataFrame
        The same with usual_fast_mps, sorted; null where fewer than 3 earlier days are known:
        the day's own 90th percentile stands in for it in :func:`full_effort`.
    """
    ordered = daily.sort(*_STREAM, "on_date")
    usual = ordered.rolling("on_date", period=f"{REFERENCE_DAYS}d", closed="left", group_by=list(_STREAM)).agg(
        usual_fast_mps=pl.col("fast_mps").median(), n_days=pl.len()
    )
    enough = pl.when(pl.col("n_days") >= REFERENCE_AT_LEAST_DAYS).then("usual_fast_mps")
    joined = ordered.join(usual, on=[*_STREAM, "on_date"], how="left", maintain_order="left")
    return joined.with_columns(usual_fast_mps=enough).select(*_STREAM, "on_date", "fast_mps", "usual_fast_mps")


def full_effort(shots: pl.DataFrame, daily: pl.DataFrame) -> pl.DataFrame:
    """Timed and full-effort swings of each session, from its shots.

    Parameters
    ----------
    shots : polars.DataFrame
        player_id, session_id, on_date, club, device_id, club_speed_mps.
    daily : polars.DataFrame
        See :func:`usual_fast_speed`: of these days and of the 60 days before them.

    Returns
    -------
    polars.DataFrame
        session_id, n_timed (shots with a club speed), n_full_effort (null when none was timed), sorted.

    Notes
    -----
    Full effort: at least 98.5 % of the usual fast swing of the same player, club and device; before 3 days are known, of the day.
    """
    reference = usual_fast_speed(daily).with_columns(reference_mps=pl.coalesce("usual_fast_mps", "fast_mps"))
    marked = shots.with_columns(pl.col("device_id").fill_null("")).join(
        reference, on=[*_STREAM, "on_date"], how="left", maintain_order="left"
    )
    fast = pl.col("club_speed_mps") >= FULL_EFFORT_SHARE * pl.col("reference_mps")
    return (
        marked.group_by("session_id")
        .agg(n_timed=pl.col("club_speed_mps").count(), n_full_effort=fast.sum())
        .with_columns(
            n_full_effort=pl.when(pl.col("n_timed") > 0).then(pl.col("n_full_effort").cast(pl.Int64)),
            n_timed=pl.col("n_timed").cast(pl.Int64),
        )
        .sort("session_id")
    )
