"""Wild shots of a session, measured by its pattern and that of the player's sessions before."""

from __future__ import annotations

import math

import polars as pl

EARLIER, FEWEST_EARLIER = 20, 4
"""Sessions by which a shot is judged. Own choice."""

WOBBLE, NEAR_AT = 0.12, 2.5
"""A session is judged by earlier ones too where its own spread is no farther from theirs than so many standard deviations:
patterns of sessions differ by 12 %, and by what few shots tell of a spread. Own choice; squads are simulated with 12 %."""

SCATTER_VARIANCE, SCATTER_BIAS = 0.6, 1.3
"""Variance of the log of a session's capped mean absolute deviation, and by how much few shots make it smaller, times its shots.

Source: own simulation, 8 to 40 normal shots
"""

MEAN_DEVIATION_TO_SD = math.sqrt(math.pi / 2.0)
"""Standard deviation of a normal distribution, in mean absolute deviations."""

ONE_IN_A_HUNDRED = 2.5758293035489004
"""Standard deviations beyond which, to both sides together, one in a hundred of a normal distribution lies."""

SERIES = ("player_id", "club_group", "club")


def with_wild_shots(sessions: pl.DataFrame) -> pl.DataFrame:
    """Sessions with ``wild_n``: shots so far to a side that one in a hundred of the player's usual ones would be.

    Parameters
    ----------
    sessions : polars.DataFrame
        player_id, club_group, club, on_date, session_id, offline_m_scatter_n, offline_m_log_mad, offline_m_wild_n (by the spread
        of the session itself), offline_m_far [m].

    Returns
    -------
    polars.DataFrame
        The rows in order of player, group, club and day; wild_n null where offline_m_wild_n is.

    Notes
    -----
    Wild shots widen the session that they are in, and few shots tell little of a spread: by the session itself a shot must lie
    ``2.576 + 13/n + 20/n**2`` robust standard deviations out. With those before it, ``2.576 + 2/n`` standard deviations
    ``sqrt(pi/2) exp(u + w (l - u))`` will do: ``l = log_mad + 1.3/n``, u the median of l over the 20 sessions before, and
    ``w = .12**2 / (.12**2 + .6/n)``, since patterns are wider on one day than on another. A pattern that is wider as a whole has
    no more wild shots: where l lies farther from u than 2.5 ``sqrt(.12**2 + .6/n)``, or fewer than 4 sessions came before, the
    session is judged by itself.

    Source: own rule
    Checked: tests/unit/test_wild.py (one clean shot in a hundred, whatever the length of the sessions)
    """
    n = pl.col("offline_m_scatter_n").cast(pl.Float64)
    ordered = sessions.sort(*SERIES, "on_date", "session_id").with_columns(
        (pl.col("offline_m_log_mad") + SCATTER_BIAS / n).alias("_own")
    )
    usual = pl.col("_own").shift(1).rolling_median(EARLIER, min_samples=FEWEST_EARLIER).over(SERIES)
    near = (pl.col("_own") - pl.col("_usual")).abs() <= NEAR_AT * (WOBBLE**2 + SCATTER_VARIANCE / n).sqrt()
    share = WOBBLE**2 / (WOBBLE**2 + SCATTER_VARIANCE / n)
    level = pl.col("_usual") + share * (pl.col("_own") - pl.col("_usual"))
    cut = (ONE_IN_A_HUNDRED + 2.0 / n) * MEAN_DEVIATION_TO_SD * level.exp()
    judged = ordered.with_columns(usual.alias("_usual")).with_row_index("_row")
    judged = judged.with_columns(pl.when(near).then(cut).alias("_cut"))
    far = judged.filter(pl.col("_cut").is_not_null(), pl.col("offline_m_far").is_not_null()).select(
        "_row", "_cut", "offline_m_far"
    )
    beyond = far.explode("offline_m_far").group_by("_row").agg((pl.col("offline_m_far") > pl.col("_cut")).sum().alias("_beyond"))
    told = judged.join(beyond, on="_row", how="left", maintain_order="left")
    counted = pl.when(pl.col("offline_m_wild_n").is_not_null()).then(pl.coalesce("_beyond", "offline_m_wild_n"))
    return told.with_columns(counted.cast(pl.Int64).alias("wild_n")).drop("_own", "_usual", "_cut", "_row", "_beyond")
