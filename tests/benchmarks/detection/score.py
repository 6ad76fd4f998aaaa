"""Scoring of flags against the truth of a simulated squad.

Early detection inside a window is credited; the weights are our own.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl

from tests.benchmarks.detection.squad import EVENTS, KIND, RAMP_DAYS, START, WINDOW_DAYS, Squad, Truth

TRUE_KINDS: dict[str, frozenset[str]] = {
    "drift": frozenset({"speed_fall"}),
    "plateau": frozenset({"speed_rise", "speed_stall"}),
    "scatter": frozenset({"scatter_rise", "aim_shift"}),
    "transfer": frozenset({"speed_rise", "speed_stall", "transfer_loss"}),
    "cost": frozenset({"speed_rise", "speed_stall", "scatter_rise", "speed_cost", "aim_shift"}),
    "": frozenset(),
}
"""Kinds that an event makes true after its onset (a plateau's rise is true from the first day): they are never false."""

STROKES_A_PERCENT, STROKES_A_DEGREE, SPREAD_DEG, TRUE_STROKES = 0.1, 0.85, 3.75, 0.15
"""Strokes a round of 1 % of ball speed, and of a degree of spread to the side (simulated golfers who go round in about 80
[BroadieKo2009], second-hand and rounded); spread of everybody here [deg]; from how large a planted change on it is true that
drives cost more or fewer strokes: half of what is followed."""

DAYS_PER_MONTH = 365.25 / 12.0


@dataclass(frozen=True)
class Score:
    """How one kind of event was found."""

    event: str
    n_events: int
    recall: float
    precision: float
    f1: float
    median_delay: float
    delay_90: float
    false_per_month: float
    recall_interval: tuple[float, float]
    f1_interval: tuple[float, float]


def planted_strokes(truth: Truth, day: int) -> float:
    """What the planted change of speed and spread makes of strokes a round: the last 90 days against those 6 to 12 months ago.

    Where there are none of those, against the three months before the last three: as the rules on strokes compare.
    """
    recent = range(max(day - 90, 0), day)
    earlier = range(max(day - 365, 0), day - 180) if day > 210 else range(max(day - 180, 0), max(day - 90, 1))
    now, then = (np.mean([_strokes_on(truth, one) for one in days]) for days in (recent, earlier))
    return float(now - then)


def _strokes_on(truth: Truth, day: int) -> float:
    ramp = min(max(day - truth.onset, 0) / RAMP_DAYS, 1.0)
    ball = {
        "drift": -0.02 * ramp,
        "plateau": 0.012 * min(day, truth.onset) / 28.0,
        "cost": 0.04 * ramp,
        "slow rise": 0.003 * day / 28.0,
    }.get(truth.event or truth.decoy, 0.0)  # of a transfer the ball gains nothing
    wider = {"scatter": 1.0 * (day >= truth.onset), "cost": 0.45 * ramp}.get(truth.event, 0.0)
    return -STROKES_A_PERCENT * 100.0 * ball + STROKES_A_DEGREE * SPREAD_DEG * wider


def _is_true(truth: Truth, kind: str, on: dt.date) -> bool:
    if kind in {"strokes_worse", "strokes_better"}:
        change = planted_strokes(truth, (on - START).days)
        return (change if kind == "strokes_worse" else -change) >= TRUE_STROKES
    begun = on >= truth.onset_on or (truth.event == "plateau" and kind == "speed_rise")
    return kind in TRUE_KINDS[truth.event] and begun


def judged(flags: pl.DataFrame, squad: Squad, day: str = "alerted_on") -> pl.DataFrame:
    """Flags that reached the level, with day since onset and whether they are true, by player."""
    truths = {truth.player_id: truth for truth in squad.truths}
    rows = [
        {
            "player_id": flag["player_id"],
            "kind": flag["kind"],
            "event": truths[flag["player_id"]].event,
            "decoy": truths[flag["player_id"]].decoy,
            "delay": (flag[day] - truths[flag["player_id"]].onset_on).days,
            "is_true": _is_true(truths[flag["player_id"]], flag["kind"], flag[day]),
        }
        for flag in flags.filter(pl.col(day).is_not_null(), pl.col("player_id") != "").iter_rows(named=True)
    ]
    schema = {
        "player_id": pl.String,
        "kind": pl.String,
        "event": pl.String,
        "decoy": pl.String,
        "delay": pl.Int64,
        "is_true": pl.Boolean,
    }
    return pl.DataFrame(rows, schema=schema)


def scores(found: pl.DataFrame, squad: Squad, n_bootstrap: int = 200) -> list[Score]:
    return [_score(found, squad, event, n_bootstrap) for event in EVENTS]


def _score(found: pl.DataFrame, squad: Squad, event: str, n_bootstrap: int) -> Score:
    kind, window = KIND[event], WINDOW_DAYS[event]
    mine = found.filter(pl.col("kind") == kind)
    index = {truth.player_id: number for number, truth in enumerate(squad.truths)}
    has_event = np.array([truth.event == event for truth in squad.truths])
    hit, false, delay = np.zeros(has_event.size), np.zeros(has_event.size), np.full(has_event.size, np.nan)
    for row in mine.iter_rows(named=True):
        player = index[row["player_id"]]
        if row["event"] == event and 0 <= row["delay"] <= window and not hit[player]:
            hit[player], delay[player] = 1.0, row["delay"]
        elif not row["is_true"]:
            false[player] += 1.0
    months = squad.n_days / DAYS_PER_MONTH
    drawn = np.random.default_rng(7).integers(0, has_event.size, (n_bootstrap, has_event.size))
    recall, precision, f1 = _rates(has_event, hit, false)
    samples = np.array([_rates(has_event[rows], hit[rows], false[rows]) for rows in drawn])
    bounds = np.quantile(np.nan_to_num(samples), (0.05, 0.95), axis=0)
    delays = delay[np.isfinite(delay)]
    quantiles = np.quantile(delays, (0.5, 0.9)) if delays.size else (np.nan, np.nan)
    return Score(
        event, int(has_event.sum()), recall, precision, f1, float(quantiles[0]), float(quantiles[1]),
        float(false.mean() / months), (float(bounds[0, 0]), float(bounds[1, 0])), (float(bounds[0, 2]), float(bounds[1, 2])),
    )  # fmt: skip


def _rates(has_event: np.ndarray, hit: np.ndarray, false: np.ndarray) -> tuple[float, float, float]:
    n, hits, wrong = has_event.sum(), (hit * has_event).sum(), false.sum()
    recall = float(hits / n) if n else np.nan
    precision = float(hits / (hits + wrong)) if hits + wrong else np.nan
    f1 = 2.0 * recall * precision / (recall + precision) if hits else 0.0
    return recall, precision, f1


def false_per_month(found: pl.DataFrame, squad: Squad) -> float:
    """All false alerts together, per player and month."""
    return found.filter(~pl.col("is_true")).height / (len(squad.truths) * squad.n_days / DAYS_PER_MONTH)


def decoy_rates(found: pl.DataFrame, squad: Squad) -> dict[str, float]:
    """False alerts per player and month by decoy; the cold week: those raised in it and the week after, over those weeks."""
    months = squad.n_days / DAYS_PER_MONTH
    players = {decoy: sum(truth.decoy == decoy for truth in squad.truths) for decoy in {t.decoy for t in squad.truths} - {""}}
    false = found.filter(~pl.col("is_true"))
    return {decoy: false.filter(pl.col("decoy") == decoy).height / (n * months) for decoy, n in sorted(players.items())}


__all__ = ["DAYS_PER_MONTH", "START", "Score", "decoy_rates", "false_per_month", "judged", "scores"]
