"""What the counts behind a share say, beside its chart: a chart cuts each session, and can say no more than its largest sum."""

from __future__ import annotations

import numpy as np
import polars as pl

from pipelines.measures.scatter.share_rise import chance_of_ratio, log_ratio_of_rise


def with_counted_chances(rows: pl.DataFrame, stream: tuple[str, ...]) -> pl.DataFrame:
    """Rows of a share whose chance of a rise is that of its counts, where a rise of its chart is open and they speak clearer.

    Parameters
    ----------
    rows : polars.DataFrame
        One row a stream and day, in order: the columns of a stream, on_date, x (share [%]), n (shots), noise and variance of x,
        level (null where no point is asked for), episode, p_chart_up.
    stream : tuple of str

    Returns
    -------
    polars.DataFrame
        With another ``p_chart_up``. A stream is told by all its sessions, so the same whichever points are asked for.

    Notes
    -----
    Only while the chart's episode is open: what has lasted is the player's normal, and its counts would tell it again for half a
    year. Where sessions differ by more than their shots do, counts are divided by ``variance / noise``.

    Source: own rule; see :func:`pipelines.measures.scatter.share_rise.log_ratio_of_rise`
    Checked: tests/unit/test_share_rise.py, tests/benchmarks/detection
    """
    if rows.is_empty():
        return rows
    number = rows.select(pl.struct(stream).rle_id().alias("s"))["s"].to_numpy()
    asked = (rows["level"].is_not_null() & (rows["episode"].fill_null(0) > 0)).to_numpy()
    ratio = np.full(rows.height, -np.inf)
    day = rows["on_date"].cast(pl.Int32).cast(pl.Float64).to_numpy()
    effect = np.maximum((rows["variance"] / rows["noise"]).to_numpy(), 1.0)
    shots = rows["n"].cast(pl.Float64).to_numpy() / effect
    hits = np.clip(rows["x"].to_numpy() / 100.0, 0.0, 1.0) * shots
    for mine in np.split(np.arange(rows.height), np.flatnonzero(np.diff(number)) + 1):
        at = np.flatnonzero(asked[mine])
        if at.size:
            ratio[mine[at]] = log_ratio_of_rise(day[mine], hits[mine], shots[mine], at)
    return rows.with_columns(pl.min_horizontal("p_chart_up", pl.Series(chance_of_ratio(ratio))).alias("p_chart_up"))
