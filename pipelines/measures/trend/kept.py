"""What is kept of the trends of closed months, so that a night goes on from there: a state of each series, and its levels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.trend.runs import Standing

if TYPE_CHECKING:
    from pipelines.measures.trend.series import SeriesBatch

Integers = NDArray[np.int64]

_OF_SERIES = ("metric", "player_id", "club_group", "club", "series")

STATES: dict[str, pl.DataType] = {
    **{name: pl.String() for name in _OF_SERIES},
    "month_on": pl.Date(),
    **{name: pl.Int64() for name in ("n_sessions", "leads_to", "confirmed_at")},
    **{name: pl.List(pl.Float64()) for name in ("state", "levels")},
}
"""Columns of rows that are kept: month_on is the last month that they rest on."""


@dataclass(frozen=True)
class Closed:
    """The months of each of S series before its last one.

    Attributes
    ----------
    month : (S,) array of datetime64[D]
        The newest of them; NaT where there is none.
    n : (S,) array of int
        Sessions up to the end of it; 0 where there is none, or where that is what stands.
    """

    month: NDArray[np.datetime64]
    n: Integers


def numbered(ordered: pl.DataFrame, series: Integers, states: pl.DataFrame | None) -> pl.DataFrame:
    """What stands of the series, with the number of each; no row where nothing does.

    Parameters
    ----------
    ordered, series
        See :func:`closed_sessions`.
    states : polars.DataFrame or None
        What stands.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_follow.py
    """
    stood = pl.DataFrame(schema=STATES) if states is None else states
    numbers = ordered.select(*_OF_SERIES, number=pl.Series(series)).unique(_OF_SERIES, keep="first", maintain_order=True)
    return numbers.join(stood, on=_OF_SERIES, maintain_order="left")


def closed_sessions(ordered: pl.DataFrame, series: Integers, stood: pl.DataFrame) -> Closed:
    """What is to be kept from now on: of each series all before its last month, unless that stands.

    Parameters
    ----------
    ordered : polars.DataFrame
        Sessions by series and day: metric, the columns of a series, on_date.
    series : (n,) array
        Number of the series of each.
    stood : polars.DataFrame
        From :func:`numbered`.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_follow.py
    """
    months = ordered.select("on_date", s=pl.Series(series), month=pl.col("on_date").dt.month_start())
    before = months.filter(pl.col("month") < pl.col("month").last().over("s"))
    newest = before.group_by("s").agg(pl.len().cast(pl.Int64).alias("n"), pl.col("month").last())
    n_series = int(series[-1]) + 1
    month, n = np.full(n_series, np.datetime64("NaT"), dtype="datetime64[D]"), np.zeros(n_series, dtype=np.int64)
    at = newest["s"].to_numpy()
    month[at], n[at] = newest["month"].to_numpy(), newest["n"].to_numpy()
    of, until = stood["number"].to_numpy(), stood["month_on"].to_numpy().astype("datetime64[D]")
    n[of[month[of] == until]] = 0
    return Closed(month, n)


def standing(stood: pl.DataFrame, batch: SeriesBatch) -> Standing:
    """What stands, series by series.

    Parameters
    ----------
    stood : polars.DataFrame
        From :func:`numbered`.
    batch : SeriesBatch

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_follow.py
    """
    known, of = Standing.nothing(batch), stood["number"].to_numpy()
    if not of.size:
        return known
    for array, name in ((known.n, "n_sessions"), (known.at, "leads_to"), (known.since, "confirmed_at")):
        array[of] = stood[name].to_numpy()
    known.state[of] = stood["state"].explode().to_numpy().reshape(of.size, *known.state.shape[1:])
    n = known.n[of]
    number = np.repeat(of, n)
    step = np.arange(number.size) - np.repeat(np.cumsum(n) - n, n)
    known.levels[step, number] = stood["levels"].explode().to_numpy()
    return known


def states_frame(ordered: pl.DataFrame, series: Integers, closed: Closed, now: Standing) -> pl.DataFrame:
    """Rows to be kept, of series of which something is.

    Parameters
    ----------
    ordered, series
        See :func:`closed_sessions`.
    closed : Closed
    now : Standing

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_follow.py
    """
    of = np.flatnonzero(now.n > 0)
    named = ordered[np.searchsorted(series, of)].select(_OF_SERIES)
    levels = [now.levels[: now.n[one], one] for one in of]
    told: dict[str, Any] = {
        "month_on": pl.Series(closed.month[of]).cast(pl.Date),
        "n_sessions": now.n[of],
        "leads_to": now.at[of],
        "confirmed_at": now.since[of],
        "state": pl.Series([one.ravel() for one in now.state[of]], dtype=pl.List(pl.Float64)),
        "levels": pl.Series(levels, dtype=pl.List(pl.Float64)),
    }
    return named.with_columns(pl.Series(name, values, dtype=STATES[name]) for name, values in told.items())
