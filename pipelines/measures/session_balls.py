"""What the balls of a session take from its level: cold first ones and tired last ones, so that short and long compare."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.baseline.norms import HISTORY_DAYS, quarter_starts
from pipelines.measures.estimates import Estimates, by_quarter
from pipelines.measures.grouping import by_group
from pipelines.measures.within_session import LEAST_BALLS, LEAST_SESSIONS, TIRING_FROM, WARMING_BALLS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_TIRING_BALLS = 40
"""So many balls beyond the one from which speed may fall tell of tiring; what lies beyond is taken as no worse."""
LEAST_PLAYERS = 5
"""Players whose own course within sessions is known, before anything is taken off anybody."""
FIRST_SESSIONS = 8
"""Sessions that say how many balls are usual for a player: levels are told as if every session had been like these."""

_GRAIN = ("player_id", "session_id")


def ball_sums(balls: pl.DataFrame) -> pl.DataFrame:
    """What the drives of each session tell of cold and tired balls, summed: all that :func:`balls_effect` needs of them.

    Parameters
    ----------
    balls : polars.DataFrame
        Drives: player_id, session_id, on_date, ball_no (from 1 within the session, warm-up balls counted), club_speed_mps [m/s],
        and counts (whether it counts for the session's level). No nulls.

    Returns
    -------
    polars.DataFrame
        player_id, session_id, on_date, n_balls, n_counting; products (within the session, of cold start for each of the grid's
        courses, tens of balls beyond each ball of the grid, and 100 ln v: the upper half of the table, row by row), and means
        (of the same without speed, over the counting balls; null without one). By player, day and session; what is said of a
        session does not depend on the others.

    Notes
    -----
    Source: [LiangZeger1986]
    Checked: tests/unit/test_session_balls.py
    """
    ordered = balls.sort("player_id", "on_date", "session_id", "ball_no")
    ball = pl.col("ball_no").cast(pl.Float64)
    made = ordered.with_columns(
        *(column.alias(name) for name, column in zip(_NAMES, _columns(ball), strict=True)),
        (100.0 * pl.col("club_speed_mps").log()).alias("y"),
    )
    every = (*_NAMES, "y")
    pairs = [(a, b) for at, a in enumerate(every) for b in every[at:]]
    summed = by_group(made, _GRAIN).agg(
        pl.col("on_date").first(),
        pl.len().cast(pl.Int64).alias("n_balls"),
        pl.col("counts").sum().cast(pl.Int64).alias("n_counting"),
        *(pl.col(name).sum().alias(f"sum_{name}") for name in every),
        *(pl.col(name).filter("counts").mean().alias(f"mean_{name}") for name in _NAMES),
        *((pl.col(a) * pl.col(b)).sum().alias(f"{a}*{b}") for a, b in pairs),
    )
    within = ((pl.col(f"{a}*{b}") - pl.col(f"sum_{a}") * pl.col(f"sum_{b}") / pl.col("n_balls")) for a, b in pairs)
    told = summed.select(
        *_GRAIN,
        *("on_date", "n_balls", "n_counting"),
        pl.concat_list(within).alias("products"),
        pl.when(pl.col("n_counting") > 0).then(pl.concat_list(f"mean_{name}" for name in _NAMES)).alias("means"),
    )
    return told.sort("player_id", "on_date", "session_id")


def balls_effect(sums: pl.DataFrame, estimates: Estimates) -> pl.DataFrame:
    """By how much the balls that were struck lift or lower the club speed of each session.

    Parameters
    ----------
    sums : polars.DataFrame
        From :func:`ball_sums`, of all players.
    estimates : Estimates
        What is known of the squad's courses at the beginning of earlier quarters.

    Returns
    -------
    polars.DataFrame
        player_id, session_id, within_pct: expected speed of the counting balls of the session [%] against what the same balls
        would be in a session like the player's first eight; a row for each session with a counting ball.

    Notes
    -----
    ``100 ln v = session + c exp(-(n - 1)/w) + d min(40, max(0, n - m))/10 + e`` by least squares within sessions, for each
    quarter from the 365 days before it: ``w`` and ``m`` those of a small grid that leave least over the squad, ``c`` and ``d`` of
    each player drawn toward the squad's by the error of the own ones (clustered by session) and the variance between players.
    0 in quarters before five players are known. Nothing looks ahead.

    Source: [LiangZeger1986], [DerSimonianLaird1986]
    Checked: tests/unit/test_session_balls.py
    """
    ordered = sums.sort("player_id", "on_date", "session_id")
    if ordered.is_empty():
        return pl.DataFrame(schema={"player_id": pl.String, "session_id": pl.String, "within_pct": pl.Float64})
    starts = quarter_starts(ordered["on_date"].min(), ordered["on_date"].max())  # type: ignore[arg-type] # dates, not empty
    courses = by_quarter(estimates, "balls", ordered, starts, _course)
    days, away, found = ordered["on_date"].to_numpy(), _away(ordered), np.zeros(ordered.height)
    for start, course in zip(starts, courses, strict=True):
        now = np.flatnonzero((days >= np.datetime64(start)) & (days < np.datetime64(_next_quarter(start))))
        if course and now.size:  # nobody may have swung in a whole quarter
            found[now] = _of_sessions(course, ordered[now], away[now])
    rows = ordered.select(*_GRAIN, "n_counting", pl.Series("within_pct", found))
    return rows.filter(pl.col("n_counting") > 0).select(*_GRAIN, "within_pct")


def _next_quarter(start: dt.date) -> dt.date:
    return dt.date(start.year + 1, 1, 1) if start.month == 10 else dt.date(start.year, start.month + 3, 1)


def _columns(ball: pl.Expr) -> list[pl.Expr]:
    """Cold start (1 at the first ball) for each of the grid's courses, then tens of balls beyond each ball of the grid."""
    cold = [(-(ball - 1.0) / warming).exp() for warming in WARMING_BALLS]
    return cold + [(ball - tiring).clip(0.0, MOST_TIRING_BALLS) / 10.0 for tiring in TIRING_FROM]


_NAMES = tuple(f"b{place}" for place in range(len(WARMING_BALLS) + len(TIRING_FROM)))
_UPPER = np.triu_indices(len(_NAMES) + 1)


def _away(sums: pl.DataFrame) -> Floats:
    """Mean of the columns over the counting balls of each session, less that of the player's first sessions, (S, K)."""
    own = [pl.col("means").list.get(place).alias(name) for place, name in enumerate(_NAMES)]
    means = sums.select("player_id", *own)
    running = [
        (pl.col(name).cum_sum() / pl.col(name).is_not_null().cum_sum()).forward_fill().over("player_id") for name in _NAMES
    ]
    return np.nan_to_num(means.select(_NAMES).to_numpy() - _held(sums, means.select(running)))


def _held(sums: pl.DataFrame, running: pl.DataFrame) -> Floats:
    """The running means of each player up to the eighth session, then that of the eighth."""
    number = pl.int_range(pl.len()).over("player_id")
    rows = pl.concat([sums.select("player_id"), running], how="horizontal").with_row_index("row").with_columns(n=number)
    first = pl.col("row") - pl.col("n")
    at = rows.select(first + pl.min_horizontal("n", pl.lit(FIRST_SESSIONS - 1)))["row"].to_numpy()
    return np.asarray(running.to_numpy()[at])


def _of_sessions(course: list[Any], sums: pl.DataFrame, away: Floats) -> Floats:
    """What the counting balls of sessions make of their level [%]."""
    cold, tired, of_others, own = course
    coefficients = np.array([own.get(player_id, of_others) for player_id in sums["player_id"]])
    return np.asarray((away[:, [cold, tired]] * coefficients).sum(axis=1))


@dataclass(frozen=True)
class _Year:
    """Sessions of the year before a quarter.

    Attributes
    ----------
    players : list of str
        In order.
    player : (S,) array
        Number of the player.
    cross : (S, K, K) array
        Products of the columns within the session; ``speed``: (S, K) with the speeds; ``square``: (S,) of the speeds.
    n_balls : (S,) array
    """

    players: list[str]
    player: Ints
    cross: Floats
    speed: Floats
    square: Floats
    n_balls: Floats

    @staticmethod
    def of(sums: pl.DataFrame) -> _Year:
        within = np.empty((sums.height, len(_NAMES) + 1, len(_NAMES) + 1))
        within[:, _UPPER[0], _UPPER[1]] = sums["products"].list.to_array(_UPPER[0].size).to_numpy()
        within[:, _UPPER[1], _UPPER[0]] = within[:, _UPPER[0], _UPPER[1]]
        return _Year(
            sums["player_id"].unique(maintain_order=True).to_list(),
            sums["player_id"].rle_id().to_numpy().astype(np.int64),
            within[:, :-1, :-1],
            within[:, :-1, -1],
            within[:, -1, -1],
            sums["n_balls"].to_numpy().astype(np.float64),
        )


def _course(sums: pl.DataFrame, start: dt.date) -> list[Any]:
    """The course of a quarter from the year before it; empty before five players are known.

    The form that fits the squad (columns of cold and tired), what it makes of a player who is not known, and of those who are.
    """
    lately = pl.col("on_date").is_between(start - dt.timedelta(days=HISTORY_DAYS), start, closed="left")
    year = _Year.of(sums.filter(lately & (pl.col("n_balls") >= 3)))
    n_players = len(year.players)
    counts = np.bincount(year.player, minlength=n_players)
    balls = np.bincount(year.player, year.n_balls, minlength=n_players)
    known = (counts >= LEAST_SESSIONS) & (balls >= LEAST_BALLS)
    if known.sum() < LEAST_PLAYERS:
        return []
    cross, speed, square = (_by_player(one, year.player, n_players)[known] for one in (year.cross, year.speed, year.square))
    forms = [(w, len(WARMING_BALLS) + m) for w in range(len(WARMING_BALLS)) for m in range(len(TIRING_FROM))]
    chosen = list(max(forms, key=lambda form: _explained(cross, speed, square, list(form))))
    beta = np.zeros((n_players, 2))
    beta[known] = _solved(cross[:, chosen][:, :, chosen], speed[:, chosen])
    variance = _clustered(year, known, chosen, beta)
    drawn = [_drawn(beta[known, k], variance[known, k]) for k in range(2)]
    names = [name for name, is_known in zip(year.players, known.tolist(), strict=True) if is_known]
    own = dict(zip(names, np.column_stack([one for _, one in drawn]).tolist(), strict=True))
    return [*chosen, [mean for mean, _ in drawn], own]


def _by_player(values: Floats, of: Ints, n_players: int) -> Floats:
    total = np.zeros((n_players, *values.shape[1:]))
    np.add.at(total, of, values)
    return total


def _solved(cross: Floats, speed: Floats) -> Floats:
    """Least squares of each player; a column that is empty gets 0."""
    return np.asarray((np.linalg.pinv(cross, rcond=1e-9, hermitian=True) @ speed[:, :, None])[:, :, 0])


def _explained(cross: Floats, speed: Floats, square: Floats, chosen: list[int]) -> float:
    beta = _solved(cross[:, chosen][:, :, chosen], speed[:, chosen])
    return float(((beta * speed[:, chosen]).sum(axis=1) / np.maximum(square, 1e-9)).sum())


def _clustered(year: _Year, known: NDArray[np.bool_], chosen: list[int], beta: Floats) -> Floats:
    """Variance of each coefficient of each player, clustered by session; infinite where fewer than eight sessions tell of it."""
    of, cross = year.player, year.cross[:, chosen][:, :, chosen]
    scores = year.speed[:, chosen] - (cross @ beta[of][:, :, None])[:, :, 0]
    meat = _by_player(scores[:, :, None] * scores[:, None, :], of, beta.shape[0])
    total = _by_player(cross, of, beta.shape[0])
    counts = np.bincount(of, minlength=beta.shape[0])
    bread = np.linalg.pinv(total, rcond=1e-9, hermitian=True)
    spread = np.diagonal(bread @ meat @ bread, axis1=1, axis2=2) * (counts / np.maximum(counts - 1, 1))[:, None]
    told = _by_player((np.diagonal(cross, axis1=1, axis2=2) > 1e-9).astype(np.float64), of, beta.shape[0])
    return np.where((told < LEAST_SESSIONS) | ~known[:, None] | (spread <= 0), np.inf, spread)


def _drawn(own: Floats, variance: Floats) -> tuple[float, Floats]:
    """Mean of the known players' coefficients, which all others get, and theirs drawn toward it; 0 with too few of them."""
    there = np.isfinite(variance)
    if there.sum() < LEAST_PLAYERS:
        return 0.0, np.zeros(own.size)
    y, v = own[there], variance[there]
    weight = 1.0 / v
    mean = float((weight * y).sum() / weight.sum())
    spare = weight.sum() - (weight**2).sum() / weight.sum()
    between = max(float(((weight * (y - mean) ** 2).sum() - (y.size - 1)) / spare), 0.0)
    weight = 1.0 / (v + between)
    mean = float((weight * y).sum() / weight.sum())
    found = np.full(own.size, mean)
    share = between / (between + v)
    found[there] = mean + share * (y - mean)
    return mean, found
