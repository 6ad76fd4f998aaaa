"""Shots that lost ball speed: whether those of a session come with the tails of its pattern."""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import ndtr

from pipelines.measures.scatter.rings import EDGES, SHARES
from pipelines.measures.scatter.tails import TAIL_FACTOR
from pipelines.measures.scatter.wild import EARLIER, FEWEST_EARLIER, SERIES

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

LOST_AT, FEWEST_TOLD = 2.5, 8
"""A shot lost ball speed where its ratio of ball to club speed lies so many standard deviations, as is usual for the player,
below the session's middle; asked where at least so many shots tell. Own choice."""

ANYWAY: Floats = np.array([0.01, 0.04, 0.15])
"""Shares of the shots near the middle that lost ball speed as well, which are weighed."""

WITH_WIDE: Floats = np.array([0.0, 0.4, 0.85])
"""Of the others, shares of shots of the wide part that lose ball speed: 0 where a face that was open or shut sends them wide, and
nothing is lost; most where they were struck far from the middle of the face. Own choice."""

WEIGHTS: Floats = np.outer([0.6, 0.3, 0.1], [0.4, 0.3, 0.3]).ravel()
"""How likely each pair of both is before any shot was seen: own choice."""


def with_lost_shots(sessions: pl.DataFrame) -> pl.DataFrame:
    """Sessions with ``lost_side``: how far to a side those shots ended that lost ball speed [robust standard deviations].

    Parameters
    ----------
    sessions : polars.DataFrame
        player_id, club_group, club, on_date, session_id, speed_ratio_centre, speed_ratio_spread, speed_ratio_lost,
        speed_ratio_lost_side; in order of player, group, club and day.

    Returns
    -------
    polars.DataFrame
        The rows as given; null where nothing is known of the player's spread.

    Notes
    -----
    By 2.5 times the median spread of the 20 sessions before, or by the session's own where fewer than four came before.

    Source: own rule
    Checked: tests/unit/test_lost.py
    """
    own = pl.col("speed_ratio_spread") / pl.col("speed_ratio_centre")
    usual = own.shift(1).rolling_median(EARLIER, min_samples=FEWEST_EARLIER).over(SERIES)
    cut = sessions.select(pl.coalesce(usual, own).alias("cut"))["cut"] * LOST_AT
    numbered = sessions.select("speed_ratio_lost", "speed_ratio_lost_side").with_columns(cut).with_row_index("row")
    beyond = (
        numbered.filter(pl.col("cut").is_not_null(), pl.col("speed_ratio_lost").is_not_null())
        .explode("speed_ratio_lost", "speed_ratio_lost_side")
        .group_by("row", maintain_order=True)
        .agg(pl.col("speed_ratio_lost_side").filter(pl.col("speed_ratio_lost") > pl.col("cut")).alias("lost_side"))
    )
    return sessions.with_columns(numbered.join(beyond, on="row", how="left", maintain_order="left")["lost_side"])


def lost_counts(n_sessions: int, session: Integers, side: Floats) -> Floats:
    """How many shots that lost ball speed lie in each ring about the middle of their session, (sessions, 8).

    Parameters
    ----------
    n_sessions : int
    session, side : (k,) arrays
        Of each such shot the number of its session, and its distance to a side [robust standard deviations].

    Notes
    -----
    Counting only. Source: own rule. Checked: tests/unit/test_lost.py
    """
    n_rings = EDGES.size - 1
    ring = np.clip(np.searchsorted(EDGES, side, side="right") - 1, 0, n_rings - 1)
    counts = np.bincount(session * n_rings + ring, minlength=n_sessions * n_rings)
    return np.asarray(counts.reshape(n_sessions, n_rings).astype(np.float64))


def loss_log_likelihoods(counts: Floats, lost: Floats, told: Floats) -> Floats:
    """How likely it is that just those shots of each session lost ball speed, by what share of shots makes the tails.

    Parameters
    ----------
    counts, lost : (n, 8) arrays
        From :func:`pipelines.measures.scatter.rings.ring_counts`, and :func:`lost_counts`.
    told : (n,) array
        Share of the shots whose ball and club speed were measured, 0 to 1.

    Returns
    -------
    (n, 8, 9) array
        Natural logarithms, but for a number that is the same for all, by share of the wide part and by the pairs of ``ANYWAY``
        and ``WITH_WIDE``; 0 where fewer than 8 shots tell. No missing values are taken.

    Notes
    -----
    A shot in ring k is of the wide part with chance ``q = s w_k / ((1 - s) n_k + s w_k)``, the narrow part as wide as the
    session's robust standard deviation, and loses ball speed with chance ``f + q a (1 - f)``.

    Source: [Tukey1960] (two normal parts)
    Checked: tests/unit/test_lost.py
    """
    others = np.maximum(counts * told[:, None] - lost, 0.0)
    gone, kept = np.log(_CHANCE), np.log1p(-_CHANCE)
    # written out: the last digit of a product of matrices depends on how many sessions stand beside
    found = sum(
        lost[:, ring, None, None] * gone[ring] + others[:, ring, None, None] * kept[ring] for ring in range(EDGES.size - 1)
    )
    tells = counts.sum(axis=1) * told >= FEWEST_TOLD
    return np.asarray(np.where(tells[:, None, None], found, 0.0))


def _chance() -> Floats:
    """Chance that a shot of a ring lost ball speed, (rings, shares, pairs)."""
    narrow, wide = (np.diff(2.0 * ndtr(EDGES / factor) - 1.0)[:, None] for factor in (1.0, TAIL_FACTOR))
    is_wide = SHARES * wide / np.maximum((1.0 - SHARES) * narrow + SHARES * wide, 1e-300)
    anyway, beside = np.repeat(ANYWAY, WITH_WIDE.size), np.tile(WITH_WIDE, ANYWAY.size)
    return np.asarray(anyway + is_wide[:, :, None] * beside * (1.0 - anyway))


_CHANCE = _chance()
