"""What the shots behind a share of wild ones say in place of its chart: how far out all lie and which lost ball speed."""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.scatter.share_rise import HISTORY_DAYS, chance_of_ratio, log_ratios_of_rise
from pipelines.measures.scatter.usual_shares import quiet_shares, told_by_shots

LASTED_AT = 3.0
"""Log ratio of a rise before the last three months from which on it has lasted. Own choice."""

BY_SIDE_ALONE = 0.4
"""What a chance weighs where no shot of the year tells whether it lost ball speed. How far shots end is then all that speaks, and
is seldom so clear by chance: as many are false a month as where both speak. Own choice: six squads of tests/benchmarks/detection
with and without ball speed (101, 2120, 2125, 2126, 2173, 2175)."""


def with_chances_of_rise(rows: pl.DataFrame, stream: tuple[str, ...], asked: pl.Expr, open_at: float) -> pl.DataFrame:
    """Rows of a share of wild shots whose chance of a rise is that of how far out shots lie and which lost ball speed.

    Parameters
    ----------
    rows : polars.DataFrame
        One row a stream and day, in order: the columns of a stream, on_date, n (shots), median_off_m, far_off_m, ratio_n,
        lost_side, usual_shares, looks, episode, ended, p_chart_up.
    stream : tuple of str
    asked : polars.Expr
        Of which rows it is asked; of the others the chance is 1.
    open_at : float
        Chance up to which a rise is held to be going on.

    Returns
    -------
    polars.DataFrame
        With another ``p_chart_up`` and ``ended`` (``lasting`` where a rise is more than three months old), no ``episode`` and no
        ``chart_up``, which says nothing here; ``looks`` times ``BY_SIDE_ALONE`` where no ball speed is told, in proportion where
        that of some shots is. A stream is told by all its sessions, so the same whichever points are asked for.

    Notes
    -----
    Source: own rule; see :func:`pipelines.measures.scatter.share_rise.log_ratios_of_rise`
    Checked: tests/unit/test_share_rise.py, tests/benchmarks/detection
    """
    if rows.is_empty():
        return rows
    number = rows.select(pl.struct(stream).rle_id().alias("s"))["s"].to_numpy()
    is_asked = rows.select(asked.fill_null(value=False).alias("asked"))["asked"].to_numpy()
    day = rows["on_date"].cast(pl.Int32).cast(pl.Float64).to_numpy()
    recent, older = np.full((2, rows.height), -np.inf)
    with_ball = np.ones(rows.height)
    for mine in np.split(np.arange(rows.height), np.flatnonzero(np.diff(number)) + 1):
        at = np.flatnonzero(is_asked[mine])
        if at.size:
            begin = int(np.searchsorted(day[mine], day[mine[at[0]]] - HISTORY_DAYS))
            own = rows[int(mine[begin]) : int(mine[at[-1]]) + 1]
            own_day, usual = day[mine[begin : at[-1] + 1]], quiet_shares(rows["usual_shares"][mine[at]])
            recent[mine[at]], older[mine[at]] = log_ratios_of_rise(own_day, *told_by_shots(own), at - begin, usual)
            with_ball[mine[at]] = _share_with_ball(own, own_day, at - begin)
    chance = chance_of_ratio(recent)
    lasts = pl.Series((older >= LASTED_AT) & (chance > open_at))
    weight = pl.Series(BY_SIDE_ALONE + (1.0 - BY_SIDE_ALONE) * with_ball)
    return rows.with_columns(
        pl.Series("p_chart_up", chance),
        (pl.col("looks") * weight).alias("looks"),
        pl.when(lasts).then(pl.lit("lasting")).otherwise(pl.lit("")).alias("ended"),
        pl.lit(0, dtype=pl.Int64).alias("episode"),
        pl.lit(None, dtype=pl.Float64).alias("chart_up"),
    )


def _share_with_ball(own: pl.DataFrame, day: NDArray[np.float64], at: NDArray[np.int64]) -> NDArray[np.float64]:
    """Share of the shots of the year before some sessions, theirs too, whose ball and club speed were measured."""
    tell, shots = (np.concatenate([[0], own[name].fill_null(0).to_numpy().cumsum()]) for name in ("ratio_n", "n"))
    begin = np.searchsorted(day, day[at] - HISTORY_DAYS)
    return np.asarray(np.clip((tell[at + 1] - tell[begin]) / (shots[at + 1] - shots[begin]), 0.0, 1.0))
