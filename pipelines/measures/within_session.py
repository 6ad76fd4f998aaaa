"""Within a session: how many balls until full speed, and whether speed falls when it gets long."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import stdtrit

if TYPE_CHECKING:
    from collections.abc import Iterable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WARMING_BALLS = (3.0, 5.0, 8.0, 12.0)
"""After so many balls 63 % of the cold start is gone; the one that fits the whole squad best is taken."""
TIRING_FROM = (25, 40, 60)
"""Ball from which speed may fall."""
LEAST_SESSIONS, LEAST_BALLS = 8, 120
LEAST_LATE_SESSIONS, LEAST_LATE_BALLS = 5, 40
LEAST_EARLY_SESSIONS, LEAST_EARLY_BALLS = 5, 20
LEVEL = 0.90
FULL_PCT = 0.5
"""Full speed: no more than this below the level of the session [%]; half the smallest worthwhile change."""
_NOTHING = 1e-9
"""Sum of squares of a course within sessions below which no swing of it was seen."""


@dataclass(frozen=True)
class _Swings:
    """One player's swings, sessions together: log speed in percent, ball of the session from 1, number of the session."""

    speed: Floats
    ball: Floats
    session: Ints


def _basis(ball: Floats, warming: float, tiring: int) -> Floats:
    """Columns: cold start (1 at the first ball), and tens of balls beyond the one from which speed may fall."""
    return np.column_stack([np.exp(-(ball - 1.0) / warming), np.maximum(ball - tiring, 0.0) / 10.0])


def _within(values: Floats, session: Ints) -> Floats:
    """Values less the mean of their session."""
    counts = np.bincount(session)
    means = np.column_stack([np.bincount(session, column) / counts for column in values.T])
    return np.asarray(values - means[session])


def _fitted(swings: _Swings, warming: float, tiring: int) -> tuple[Floats, Floats, float]:
    """Coefficients, their covariance clustered by session, and the sum of squares that is left."""
    columns = _within(np.column_stack([_basis(swings.ball, warming, tiring), swings.speed]), swings.session)
    design, y = columns[:, :-1], columns[:, -1]
    used = np.flatnonzero((design**2).sum(axis=0) > _NOTHING)
    bread = np.linalg.pinv(design[:, used].T @ design[:, used])
    beta = bread @ design[:, used].T @ y
    left = y - design[:, used] @ beta
    n_sessions = int(swings.session.max()) + 1
    scores = np.column_stack([np.bincount(swings.session, column * left, n_sessions) for column in design[:, used].T])
    n, k = len(y), len(used) + n_sessions
    small = n_sessions / max(n_sessions - 1, 1) * (n - 1) / max(n - k, 1)
    coefficients, covariance = np.zeros(2), np.full((2, 2), np.nan)
    coefficients[used] = beta
    covariance[np.ix_(used, used)] = small * bread @ (scores.T @ scores) @ bread
    return coefficients, covariance, float(left @ left)


def _swings(part: pl.DataFrame) -> _Swings:
    speed = 100.0 * np.log(part["club_speed_mps"].to_numpy())
    session = part["session_id"].rank("dense").cast(pl.Int64).to_numpy() - 1
    return _Swings(speed, part["ball_no"].cast(pl.Float64).to_numpy(), session)


def _products(swings: _Swings) -> Floats:
    """Products of all courses of the grid and of speed, within sessions."""
    cold = [_basis(swings.ball, warming, TIRING_FROM[0])[:, 0] for warming in WARMING_BALLS]
    late = [_basis(swings.ball, WARMING_BALLS[0], tiring)[:, 1] for tiring in TIRING_FROM]
    columns = _within(np.column_stack([*cold, *late, swings.speed]), swings.session)
    return np.asarray(columns.T @ columns)


def _form(everybody: Iterable[_Swings]) -> tuple[float, int]:
    """The warming and tiring that leave least over the squad, each player weighed by how much there is to explain."""
    products = np.array([_products(one) for one in everybody])
    total = np.where(products[:, -1, -1] > 0.0, products[:, -1, -1], 1.0)

    def left(place: tuple[int, int]) -> float:
        own = np.array([place[0], len(WARMING_BALLS) + place[1]])
        square, right = products[:, own[:, None], own], products[:, own, -1]
        unused = np.diagonal(square, axis1=1, axis2=2) <= _NOTHING
        square = np.where(unused[:, :, None] | unused[:, None], 0.0, square)
        told = np.einsum("pi,pij,pj->p", right, np.linalg.pinv(square, hermitian=True), right)
        return float(((products[:, -1, -1] - told) / total).sum())

    warming, tiring = min(np.ndindex(len(WARMING_BALLS), len(TIRING_FROM)), key=left)
    return WARMING_BALLS[warming], TIRING_FROM[tiring]


def within_sessions(swings: pl.DataFrame, schema: dict[str, pl.DataType]) -> pl.DataFrame:
    """Cold start and tiring of each player, pooled over sessions.

    Parameters
    ----------
    swings : polars.DataFrame
        ``player_id``, ``session_id``, ``ball_no`` (from 1 within the session, warm-up balls counted) and ``club_speed_mps`` of
        one club; rows without a speed are left out.
    schema : dict
        Columns and types of the result, in order.

    Returns
    -------
    polars.DataFrame
        A row for each player with at least 8 sessions and 120 swings. ``cold_pct``: how far the first ball lies from the
        session's level (below 0: slower), null with fewer than 20 early swings or 5 sessions that have one;
        ``full_from_ball``: first ball within half a percent of it, null where the interval of the cold start reaches a quarter
        of a percent; ``tired_pct``: change each ten balls beyond ``tired_from_ball``, null with fewer than 40 swings or 5
        sessions beyond it.

    Notes
    -----
    ``100 ln v = session + c exp(-(n - 1)/w) + d max(0, n - m)/10 + e`` by least squares within sessions; ``w`` and ``m`` are
    those of a small grid that fit the squad best. 90 % intervals by errors clustered by session and Student's t with sessions
    less one. Source: [LiangZeger1986]. Checked: tests/published/test_within_session.py, tests/unit/test_within_session.py
    """
    known = swings.filter(pl.col("club_speed_mps").is_not_null()).sort("player_id", "session_id", "ball_no")
    counted = known.with_columns(pl.len().over("player_id", "session_id").alias("_n")).filter(pl.col("_n") >= 3)
    parts = {str(key[0]): part for key, part in counted.partition_by("player_id", as_dict=True, maintain_order=True).items()}
    enough = {
        player: _swings(part)
        for player, part in parts.items()
        if part.height >= LEAST_BALLS and part["session_id"].n_unique() >= LEAST_SESSIONS
    }
    if not enough:
        return pl.DataFrame(schema=schema)
    warming, tiring = _form(enough.values())
    rows = [{"player_id": player, **_row(one, warming, tiring)} for player, one in enough.items()]
    return pl.DataFrame(rows, schema=schema, orient="row")


def _row(swings: _Swings, warming: float, tiring: int) -> dict[str, Any]:
    coefficients, covariance, _ = _fitted(swings, warming, tiring)
    n_sessions = int(swings.session.max()) + 1
    reach = float(stdtrit(n_sessions - 1, (1.0 + LEVEL) / 2.0))
    cold, cold_away = float(coefficients[0]), reach * math.sqrt(covariance[0, 0])
    late = swings.ball > tiring
    is_long = int(late.sum()) >= LEAST_LATE_BALLS and len(np.unique(swings.session[late])) >= LEAST_LATE_SESSIONS
    tired, tired_away = float(coefficients[1]), reach * math.sqrt(max(float(covariance[1, 1]), 0.0)) if is_long else math.nan
    early = swings.ball <= warming + 1.0
    is_early = int(early.sum()) >= LEAST_EARLY_BALLS and len(np.unique(swings.session[early])) >= LEAST_EARLY_SESSIONS
    is_cold = is_early and cold + cold_away < -FULL_PCT / 2 and cold < -FULL_PCT
    return {
        "n_sessions": n_sessions,
        "n_balls": len(swings.ball),
        "n_early_balls": int(early.sum()),
        "cold_pct": cold if is_early else None,
        "cold_low_pct": cold - cold_away if is_early else None,
        "cold_high_pct": cold + cold_away if is_early else None,
        "full_from_ball": math.ceil(1.0 + warming * math.log(-cold / FULL_PCT)) if is_cold else None,
        "tired_from_ball": tiring,
        "n_late_balls": int(late.sum()),
        "tired_pct": tired if is_long else None,
        "tired_low_pct": tired - tired_away if is_long else None,
        "tired_high_pct": tired + tired_away if is_long else None,
    }
