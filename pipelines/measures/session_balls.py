"""What the balls of a session take from its level: cold first ones and tired last ones, so that short and long compare."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.baseline.norms import HISTORY_DAYS, quarter_starts
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


def balls_effect(balls: pl.DataFrame) -> pl.DataFrame:
    """By how much the balls that were struck lift or lower the club speed of each session.

    Parameters
    ----------
    balls : polars.DataFrame
        Drives: player_id, session_id, on_date, ball_no (from 1 within the session, warm-up balls counted), club_speed_mps, and
        counts (whether it counts for the session's level). No nulls.

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
    ordered = balls.sort("player_id", "on_date", "session_id", "ball_no")
    if ordered.is_empty():
        return pl.DataFrame(schema={"player_id": pl.String, "session_id": pl.String, "within_pct": pl.Float64})
    sums = _SessionSums.of(ordered)
    found = np.zeros(sums.player.size)
    for start in quarter_starts(sums.first_on, sums.last_on):
        course = _course(sums, start)
        now = sums.in_days(start, _next_quarter(start))
        if course is not None:
            found[now] = course.effect(sums, now)
    rows = sums.sessions.with_columns(pl.Series("within_pct", found))
    return rows.filter(pl.col("n_counting") > 0).select(*_GRAIN, "within_pct")


def _next_quarter(start: dt.date) -> dt.date:
    return dt.date(start.year + 1, 1, 1) if start.month == 10 else dt.date(start.year, start.month + 3, 1)


def _columns(ball: pl.Expr) -> list[pl.Expr]:
    """Cold start (1 at the first ball) for each of the grid's courses, then tens of balls beyond each ball of the grid."""
    cold = [(-(ball - 1.0) / warming).exp() for warming in WARMING_BALLS]
    return cold + [(ball - tiring).clip(0.0, MOST_TIRING_BALLS) / 10.0 for tiring in TIRING_FROM]


_N_COLUMNS = len(WARMING_BALLS) + len(TIRING_FROM)


@dataclass(frozen=True)
class _SessionSums:
    """Sums of each session, and what its counting balls were against the player's first sessions.

    Attributes
    ----------
    sessions : polars.DataFrame
        player_id, session_id, on_date, n_counting.
    player, day : (S,) arrays
        Number of the player, and days since 1970.
    cross : (S, K, K) array
        Products of the columns within the session; ``speed``: (S, K) with the speeds; ``square``: (S,) of the speeds.
    n_balls : (S,) array
    away : (S, K) array
        Mean of the columns over the counting balls, less that of the player's first sessions.
    """

    sessions: pl.DataFrame
    player: Ints
    day: Ints
    cross: Floats
    speed: Floats
    square: Floats
    n_balls: Floats
    away: Floats

    @staticmethod
    def of(balls: pl.DataFrame) -> _SessionSums:
        names = [f"b{k}" for k in range(_N_COLUMNS)]
        made = balls.with_columns(
            *(column.alias(name) for name, column in zip(names, _columns(pl.col("ball_no").cast(pl.Float64)), strict=True)),
            (100.0 * pl.col("club_speed_mps").log()).alias("y"),
        )
        pairs = [(a, b) for at, a in enumerate([*names, "y"]) for b in [*names, "y"][at:]]
        summed = by_group(made, _GRAIN).agg(
            pl.col("on_date").first(),
            pl.len().alias("n_balls"),
            pl.col("counts").sum().cast(pl.Int64).alias("n_counting"),
            *(pl.col(name).sum().alias(f"sum_{name}") for name in [*names, "y"]),
            *(pl.col(name).filter("counts").mean().alias(f"mean_{name}") for name in names),
            *((pl.col(a) * pl.col(b)).sum().alias(f"{a}*{b}") for a, b in pairs),
        )
        grouped = summed.sort("player_id", "on_date", "session_id")
        within = _within(grouped, [*names, "y"])
        means = grouped.select(f"mean_{name}" for name in names)
        own = [pl.col(f"mean_{name}") for name in names]
        running = [(one.cum_sum() / one.is_not_null().cum_sum()).forward_fill().over("player_id") for one in own]
        usual = grouped.select(running)
        return _SessionSums(
            grouped.select(*_GRAIN, "on_date", "n_counting"),
            grouped["player_id"].rle_id().to_numpy().astype(np.int64),
            grouped["on_date"].cast(pl.Int32).to_numpy().astype(np.int64),
            within[:, :-1, :-1],
            within[:, :-1, -1],
            within[:, -1, -1],
            grouped["n_balls"].to_numpy().astype(np.float64),
            np.nan_to_num(means.to_numpy() - _held(grouped, usual)),
        )

    @property
    def first_on(self) -> dt.date:
        return self.sessions["on_date"].min()  # type: ignore[return-value] # a date column, not empty

    @property
    def last_on(self) -> dt.date:
        return self.sessions["on_date"].max()  # type: ignore[return-value]

    def in_days(self, begin: dt.date, end: dt.date) -> NDArray[np.bool_]:
        """Sessions from ``begin`` to the day before ``end``."""
        epoch = dt.date(1970, 1, 1)
        return (self.day >= (begin - epoch).days) & (self.day < (end - epoch).days)


def _within(grouped: pl.DataFrame, names: list[str]) -> Floats:
    """Products of the columns less the means of their session, (S, K + 1, K + 1)."""
    total = grouped.select(f"sum_{name}" for name in names).to_numpy()
    n = grouped["n_balls"].to_numpy().astype(np.float64)
    found = np.empty((grouped.height, len(names), len(names)))
    for at, a in enumerate(names):
        for to, b in enumerate(names[at:], at):
            found[:, at, to] = grouped[f"{a}*{b}"].to_numpy() - total[:, at] * total[:, to] / n
            found[:, to, at] = found[:, at, to]
    return found


def _held(grouped: pl.DataFrame, running: pl.DataFrame) -> Floats:
    """The running means of each player up to the eighth session, then that of the eighth."""
    number = pl.int_range(pl.len()).over("player_id")
    rows = pl.concat([grouped.select("player_id"), running], how="horizontal").with_row_index("row").with_columns(n=number)
    first = pl.col("row") - pl.col("n")
    at = rows.select(first + pl.min_horizontal("n", pl.lit(FIRST_SESSIONS - 1)))["row"].to_numpy()
    return np.asarray(running.to_numpy()[at])


@dataclass(frozen=True)
class _Course:
    """The form that fits the squad, and the two coefficients of each player (P, 2), drawn toward the squad's."""

    cold: int
    tired: int
    coefficients: Floats

    def effect(self, sums: _SessionSums, chosen: NDArray[np.bool_]) -> Floats:
        """What the counting balls of the chosen sessions make of their level [%]."""
        away = sums.away[chosen][:, [self.cold, self.tired]]
        return np.asarray((away * self.coefficients[sums.player[chosen]]).sum(axis=1))


def _course(sums: _SessionSums, start: dt.date) -> _Course | None:
    before = sums.in_days(start - dt.timedelta(days=HISTORY_DAYS), start) & (sums.n_balls >= 3)
    n_players = int(sums.player.max()) + 1
    counts = np.bincount(sums.player[before], minlength=n_players)
    balls = np.bincount(sums.player[before], sums.n_balls[before], minlength=n_players)
    known = (counts >= LEAST_SESSIONS) & (balls >= LEAST_BALLS)
    if known.sum() < LEAST_PLAYERS:
        return None
    of = sums.player[before]
    cross, speed, square = (_by_player(one[before], of, n_players)[known] for one in (sums.cross, sums.speed, sums.square))
    forms = [(w, len(WARMING_BALLS) + m) for w in range(len(WARMING_BALLS)) for m in range(len(TIRING_FROM))]
    cold, tired = max(forms, key=lambda form: _explained(cross, speed, square, list(form)))
    chosen = [cold, tired]
    beta = np.zeros((n_players, 2))
    beta[known] = _solved(cross[:, chosen][:, :, chosen], speed[:, chosen])
    variance = _clustered(sums, before, known, chosen, beta)
    drawn = np.column_stack([_drawn(beta[known, k], variance[known, k], known) for k in range(2)])
    return _Course(cold, tired, drawn)


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


def _clustered(
    sums: _SessionSums, before: NDArray[np.bool_], known: NDArray[np.bool_], chosen: list[int], beta: Floats
) -> Floats:
    """Variance of each coefficient of each player, clustered by session; infinite where fewer than eight sessions tell of it."""
    of, cross = sums.player[before], sums.cross[before][:, chosen][:, :, chosen]
    scores = sums.speed[before][:, chosen] - (cross @ beta[of][:, :, None])[:, :, 0]
    meat = _by_player(scores[:, :, None] * scores[:, None, :], of, beta.shape[0])
    total = _by_player(cross, of, beta.shape[0])
    counts = np.bincount(of, minlength=beta.shape[0])
    bread = np.linalg.pinv(total, rcond=1e-9, hermitian=True)
    spread = np.diagonal(bread @ meat @ bread, axis1=1, axis2=2) * (counts / np.maximum(counts - 1, 1))[:, None]
    told = _by_player((np.diagonal(cross, axis1=1, axis2=2) > 1e-9).astype(np.float64), of, beta.shape[0])
    return np.where((told < LEAST_SESSIONS) | ~known[:, None] | (spread <= 0), np.inf, spread)


def _drawn(own: Floats, variance: Floats, known: NDArray[np.bool_]) -> Floats:
    """Own coefficients drawn toward their mean over the squad; the mean for players who are not known; 0 with too few known."""
    found = np.zeros(known.size)
    there = np.isfinite(variance)
    if there.sum() < LEAST_PLAYERS:
        return found
    y, v = own[there], variance[there]
    weight = 1.0 / v
    mean = float((weight * y).sum() / weight.sum())
    spare = weight.sum() - (weight**2).sum() / weight.sum()
    between = max(float(((weight * (y - mean) ** 2).sum() - (y.size - 1)) / spare), 0.0)
    weight = 1.0 / (v + between)
    mean = float((weight * y).sum() / weight.sum())
    found[:] = mean
    share = between / (between + v)
    found[np.flatnonzero(known)[there]] = mean + share * (y - mean)
    return found
