"""How common each share of wild shots is among the players of a squad: one player's rise is told beside what is usual there."""

from __future__ import annotations

import datetime as dt
from functools import partial

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.estimates import Estimates, by_quarter
from pipelines.measures.scatter.lost import loss_log_likelihoods, lost_counts
from pipelines.measures.scatter.rings import SHARES, log_likelihoods, ring_counts
from pipelines.measures.scatter.share_rise import HISTORY_DAYS, QUIET, log_likelihood_of_shares

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

COUNTS_AS = 10.0
"""Players as many as which :data:`QUIET` counts beside those of the squad. Own choice."""

FEWEST, NEWEST, MOST_PLAYERS = 6, 12, 60
"""Sessions of a player that are read, and of how many players, evenly of all: enough to tell what is usual. Own choice."""

EARLY_DAYS = 120
"""So long after a group's first session shares are estimated by month, then by quarter. Own choice."""

_ROUNDS, _PARTS = 30, 10_000


def with_usual_shares(rows: pl.DataFrame, estimates: Estimates) -> pl.DataFrame:
    """Sessions with ``usual_shares``: how likely each share of wild shots is in the squad, by the year before month or quarter.

    Parameters
    ----------
    rows : polars.DataFrame
        player_id, club_group, club, on_date, session_id, n, median_off_m, far_off_m, ratio_n, lost_side; in any order; those
        whose median distance is not known tell nothing.
    estimates : Estimates
        Those of before.

    Returns
    -------
    polars.DataFrame
        The rows as given; weights as text (a large squad has few), see :func:`quiet_shares`.

    Notes
    -----
    How far shots end and which lost ball speed seldom agree on one share, for no wide part is just four times as wide: weighed
    by what is usual of players anywhere, a run of chance then looks like a rise toward the share that fits both. So the shares
    of a squad are estimated from its players, by likelihood, with ten players beside as they are anywhere.

    Source: own rule; [Efron2008] (what is usual is told by all together)
    Checked: tests/unit/test_usual_shares.py, tests/benchmarks/detection
    """
    found = []
    measured = pl.col("median_off_m").is_finite() & (pl.col("median_off_m") > 0.0)
    ordered = rows.select(*_READ, "club_group").filter(measured).sort("player_id", "club", "on_date", "session_id")
    for (group,), own in ordered.sort("club_group", maintain_order=True).group_by("club_group", maintain_order=True):
        starts = _starts(own["on_date"])
        weights = by_quarter(estimates, "usual shares", own.select(_READ), starts, partial(_before, estimates))
        found += [(group, start, text) for start, (text,) in zip(starts, weights, strict=True)]
    usual = pl.DataFrame(found, schema={"club_group": pl.String, "start": pl.Date, "usual_shares": pl.String}, orient="row")
    by_day = rows.with_row_index(_PLACE).sort("on_date", maintain_order=True)
    told = by_day.join_asof(usual.sort("start"), left_on="on_date", right_on="start", by="club_group", check_sortedness=False)
    return told.sort(_PLACE).drop(_PLACE, "start")


_PLACE = "_place"


def _starts(days: pl.Series) -> list[dt.date]:
    """First days of the months with a session, soon after the first of all, then of such quarters."""
    early = days.min() + dt.timedelta(days=EARLY_DAYS)  # type: ignore[operator] # a date, not empty
    told = pl.DataFrame({"month": days.dt.month_start(), "quarter": days.dt.truncate("1q")})
    start = pl.when(pl.col("month") <= early).then("month").otherwise("quarter").alias("start")
    return list(told.select(start.unique().sort())["start"])


_OF_SHOTS = ("n", "median_off_m", "far_off_m", "ratio_n", "lost_side")
_READ = ("player_id", "club", "on_date", "session_id", *_OF_SHOTS)


def quiet_shares(texts: pl.Series) -> Floats:
    """How likely each share is, (n, 8), as ``usual_shares`` has it; what is usual anywhere where it is null."""
    of_text = {text: np.array(text.split(), dtype=np.float64) / _PARTS for text in texts.unique().drop_nulls()}
    return np.array([QUIET if text is None else of_text[text] for text in texts])


def told_by_shots(own: pl.DataFrame) -> tuple[Integers, Floats, Floats]:
    """What the shots of sessions say of share and width, and those that lost ball speed: three arrays by session.

    Parameters
    ----------
    own : polars.DataFrame
        n, median_off_m, far_off_m, ratio_n, lost_side.

    Returns
    -------
    tuple
        See :func:`pipelines.measures.scatter.rings.log_likelihoods` and
        :func:`pipelines.measures.scatter.lost.loss_log_likelihoods`.
    """
    mad, shots = own["median_off_m"].to_numpy(), own["n"].cast(pl.Float64).to_numpy()
    far, side = own["far_off_m"].list.drop_nulls(), own["lost_side"].list.drop_nulls()
    of_far, of_side = (np.repeat(np.arange(own.height), one.list.len().fill_null(0).to_numpy()) for one in (far, side))
    counts = ring_counts(shots, mad, of_far, far.explode().drop_nulls().to_numpy())
    lost = lost_counts(own.height, of_side, side.explode().drop_nulls().to_numpy())
    told = (own["ratio_n"].fill_null(0) / own["n"]).clip(0.0, 1.0).to_numpy()
    return *log_likelihoods(counts, mad), loss_log_likelihoods(counts, lost, told)


def _before(estimates: Estimates, rows: pl.DataFrame, start: dt.date) -> list[str]:
    """Weights as text, from the year before a day."""
    read = rows.filter(pl.col("on_date").is_between(start - dt.timedelta(days=HISTORY_DAYS), start, closed="left"))
    return estimates.once("usual shares", read, COUNTS_AS, partial(_squad_shares, read))


def _squad_shares(read: pl.DataFrame) -> list[str]:
    stream = ["player_id", "club"]
    newest = read.group_by(stream, maintain_order=True).tail(NEWEST).filter(pl.len().over(stream) >= FEWEST)
    number = newest.select(pl.struct(stream).rle_id().alias("s"))["s"]
    every = (int(number.max() or 0) + 1) / MOST_PLAYERS  # type: ignore[arg-type] # a number
    if every > 1.0:
        newest = newest.filter(number.is_in(np.unique((every * np.arange(MOST_PLAYERS)).astype(np.int64))))
    of = newest.select(pl.struct(stream).rle_id().alias("s"))["s"].to_numpy()
    told = (np.split(one, np.flatnonzero(np.diff(of)) + 1) for one in told_by_shots(newest))  # of all at once
    players = [log_likelihood_of_shares(*own) for own in zip(*told, strict=True) if own[0].size]
    weights = usual_weights(np.array(players).reshape(-1, SHARES.size))
    return [" ".join(str(part) for part in np.rint(_PARTS * weights).astype(int))]


def usual_weights(players: Floats) -> Floats:
    """How common each share is, from log likelihoods of players, (n, 8), with :data:`QUIET` as ``COUNTS_AS`` more of them."""
    likelihood = np.exp(players - players.max(axis=1, keepdims=True, initial=-np.inf))
    weights = QUIET
    for _ in range(_ROUNDS):
        mine = likelihood * weights
        weights = (COUNTS_AS * QUIET + (mine / mine.sum(axis=1, keepdims=True)).sum(axis=0)) / (COUNTS_AS + players.shape[0])
    return np.asarray(weights)
