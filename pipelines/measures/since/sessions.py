"""Session by session since a break or a change: how speed, scatter and direction come back to what was normal before."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.grouping import by_group
from pipelines.measures.since.normal import LEAST_AFTER, LEAST_BEFORE, Moments, differences
from pipelines.measures.trend.observations import natural
from schemas.trend_metrics import RELATIVE

LATEST: dict[str, int] = {"club_speed_mps": 5, "scatter_side_m": 15, "aim_deg": 15}
"""Speed, scatter, direction, and how many of the last sessions tell how it is now: scatter and direction differ so much from one
session to the next that five could never show that they are back. Own choice."""

BREAK_DAYS, WINDOW_DAYS, LISTED_DAYS = 21, 84, 365
"""Days without a session that make a break; days before and after that are compared; days for which it is listed. Own choices."""

_OF_DAY = ("player_id", "since_on")
_KEY = (*_OF_DAY, "club_group", "metric")


def days_since(struck: pl.DataFrame, changes: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    """The days since which a return is followed: ends of breaks, and days that somebody named.

    Parameters
    ----------
    struck : polars.DataFrame
        player_id, on_date of every session in which balls are struck.
    changes : polars.DataFrame
        player_id, changed_on, kind: what somebody named.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        player_id, since_on, cause (``break``, or the kind of the change), until_on (last day of the normal before), last_on (last
        day that belongs to it: 12 weeks, or until the next such day). Sorted; of the last year.

    Notes
    -----
    A break: 21 days or more from one session to the next. A change that was named within a break, or on the day on which it
    ended, stands in its place.

    Source: own rule
    Checked: tests/unit/test_since.py
    """
    named = changes.filter(pl.col("changed_on") <= as_of).select(
        "player_id",
        pl.col("changed_on").alias("since_on"),
        pl.col("kind").alias("cause"),
        pl.col("changed_on").dt.offset_by("-1d").alias("until_on"),
    )
    both = pl.concat([_breaks(struck.filter(pl.col("on_date") <= as_of), named), named]).sort(*_OF_DAY)
    ends = pl.min_horizontal(
        pl.col("since_on").dt.offset_by(f"{WINDOW_DAYS - 1}d"),
        pl.col("since_on").shift(-1).over("player_id").dt.offset_by("-1d"),
        pl.lit(as_of),
    )
    return both.with_columns(ends.alias("last_on")).filter(pl.col("since_on") > as_of - dt.timedelta(days=LISTED_DAYS))


def first_day(days: pl.DataFrame, as_of: dt.date) -> dt.date:
    """First day of any normal before such a day (``days``: of :func:`days_since`): no earlier session tells anything."""
    until: dt.date = days["until_on"].min() or as_of  # type: ignore[assignment] # a column of days
    return until - dt.timedelta(days=WINDOW_DAYS)


def _breaks(struck: pl.DataFrame, named: pl.DataFrame) -> pl.DataFrame:
    days = struck.select("player_id", pl.col("on_date").alias("since_on")).unique().sort(*_OF_DAY)
    found = days.with_columns(pl.col("since_on").shift(1).over("player_id").alias("until_on")).filter(
        (pl.col("since_on") - pl.col("until_on")) >= pl.duration(days=BREAK_DAYS)
    )
    named_in = found.join(named.select("player_id", pl.col("since_on").alias("named_on")), on="player_id").filter(
        pl.col("named_on") > pl.col("until_on"), pl.col("named_on") <= pl.col("since_on")
    )
    left = found.join(named_in, on=list(_OF_DAY), how="anti")
    return left.select(*_OF_DAY, pl.lit("break").alias("cause"), "until_on").select("player_id", "since_on", "cause", "until_on")


def sessions_since(points: pl.DataFrame, days: pl.DataFrame) -> pl.DataFrame:
    """What is known after each session since such a day, against the normal before it.

    Parameters
    ----------
    points : polars.DataFrame
        player_id, club_group, metric, series, session_id, on_date, value, worthwhile: rows of ``trend_point``.
    days : polars.DataFrame
        See :func:`days_since`.

    Returns
    -------
    polars.DataFrame
        Rows of ``session_since``. Where no session has come yet, one row without a session.

    Notes
    -----
    The last sessions (:data:`LATEST`) against those of the 12 weeks before, as :func:`differences` says; the margin is the
    smallest worthwhile change of the day since which it is asked. Sessions of a device that is followed on its own are left out.
    With fewer than 4 sessions before or 2 since, a reason stands in place of the comparison.

    Source: own rule
    Checked: tests/unit/test_since.py
    """
    kept = points.filter(pl.col("metric").is_in(list(LATEST)), pl.col("series") == "").with_columns(_change_unit().alias("x"))
    around = kept.join(days, on="player_id").sort(*_KEY, "on_date", "session_id")
    window = dt.timedelta(days=WINDOW_DAYS)
    before = around.filter(pl.col("on_date") <= pl.col("until_on"), pl.col("on_date") > pl.col("until_on") - window)
    after = around.filter(pl.col("on_date") >= pl.col("since_on"), pl.col("on_date") <= pl.col("last_on"))
    normal = by_group(before, _KEY).agg(
        pl.col("cause", "until_on").first(),
        pl.len().cast(pl.Int64).alias("n_before"),
        pl.col("x").mean().alias("mean_before"),
        ((pl.col("x") - pl.col("x").mean()) ** 2).sum().alias("squares_before"),
        pl.col("worthwhile").last().alias("worthwhile_before"),
    )
    latest = pl.concat([_latest(after.filter(pl.col("metric") == metric), n) for metric, n in LATEST.items()])
    return _judged(latest.join(normal, on=_KEY, how="full", coalesce=True).sort(*_KEY, "n_since"))


def _change_unit() -> pl.Expr:
    relative = pl.col("metric").is_in(RELATIVE)
    return pl.when(relative).then(100.0 * pl.col("value").log()).otherwise(pl.col("value"))


def _latest(after: pl.DataFrame, most: int) -> pl.DataFrame:
    """Each session with the mean and the squares of the last ones up to it, so many at most."""
    last = pl.col("x").rolling_mean(most, min_samples=1).over(_KEY)
    n = pl.min_horizontal(pl.col("n_since"), most)
    spread = pl.col("x").rolling_var(most, min_samples=2).over(_KEY)
    return after.select(
        *_KEY,
        pl.col("cause").alias("own_cause"),
        pl.col("until_on").alias("own_until"),
        "session_id",
        "on_date",
        "value",
        "x",
        pl.col("worthwhile").first().over(_KEY).alias("worthwhile"),
        pl.int_range(1, pl.len() + 1).over(_KEY).cast(pl.Int64).alias("n_since"),
    ).with_columns(n.alias("n_level"), last.alias("mean"), (spread * (n - 1)).alias("squares"))


def _judged(both: pl.DataFrame) -> pl.DataFrame:
    rows = both.with_columns(
        pl.col("n_before", "n_since", "n_level").fill_null(0),
        pl.coalesce("own_cause", "cause").alias("cause"),
        pl.coalesce("own_until", "until_on").alias("until_on"),
        pl.coalesce("worthwhile", "worthwhile_before").alias("worthwhile"),
    )
    reason = (
        pl.when(pl.col("n_since") == 0).then(pl.lit("no_session"))
        .when(pl.col("n_before") < LEAST_BEFORE).then(pl.lit("few_before"))
        .when(pl.col("n_since") < LEAST_AFTER).then(pl.lit("few_since"))
        .otherwise(pl.lit(""))
    )  # fmt: skip
    rows = rows.with_columns(reason.alias("reason"))
    return _with_differences(rows).select(
        *_KEY, "n_since", "cause", "until_on", "session_id", "on_date", "value", "n_before",
        natural(pl.col("mean_before"), pl.col("metric")).alias("normal"),
        "n_level",
        natural(pl.col("mean"), pl.col("metric")).alias("level"),
        "change", "change_low", "change_high", "worthwhile", "within", "state", "reason", "first_back_on",
    )  # fmt: skip


def _with_differences(rows: pl.DataFrame) -> pl.DataFrame:
    told = (rows["reason"] == "").to_numpy()

    def known(name: str) -> NDArray[np.float64]:
        return np.asarray(rows[name].cast(pl.Float64).to_numpy()[told])

    found = differences(
        Moments(known("n_before"), known("mean_before"), known("squares_before")),
        Moments(known("n_level"), known("mean"), known("squares")),
        known("worthwhile"),
    )
    said = pl.DataFrame(
        {"change": found.change, "change_low": found.low, "change_high": found.high, "within": found.within}
        | {"state": pl.Series(found.states(), dtype=pl.String), "row": np.flatnonzero(told)}
    )
    first = pl.when(pl.col("state") == "back").then("on_date").cum_min().over(_KEY).forward_fill().over(_KEY)
    numbered = rows.with_row_index("row").with_columns(pl.col("row").cast(pl.Int64))
    return numbered.join(said, on="row", how="left", maintain_order="left").with_columns(first.alias("first_back_on"))
