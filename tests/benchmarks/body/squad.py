"""A simulated squad with load and answers whose truth is known; written without looking at the rules.

One report of a region with autocorrelation .4 and spread .87, 80 % of the days answered, integers 0 to 10: the
published-in-the-notes scenario. Around it twelve more regions (six in ten of them quiet), four states and sleep; three to five
sessions a week of 60 to 110 full swings; one day in twenty unknown.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl

from schemas.regions import REGIONS

START = dt.date(2026, 1, 5)
EVENTS = ("stiffness", "load", "overuse", "", "", "", "", "")
DECOYS = ("holiday", "60 % reporter", "integer floor", "flat easy weeks", "ordinary")
BREAK_DAYS = 10
RAMP_DAYS = 4


@dataclass(frozen=True)
class Truth:
    """What is true of one player: event or decoy, day of onset, and the region of an event of the body."""

    player_id: str
    event: str
    decoy: str
    onset: int
    region: str


@dataclass(frozen=True)
class BodySquad:
    truths: tuple[Truth, ...]
    players: pl.DataFrame
    sessions: pl.DataFrame
    checkins: pl.DataFrame
    n_days: int


def body_squad(seed: int, n_players: int = 400, n_days: int = 180, regions: tuple[str, ...] = REGIONS) -> BodySquad:
    rng = np.random.default_rng([20260105, 6, seed])
    truths, sessions, checkins = [], [], []
    for number in range(n_players):
        event = EVENTS[number * len(EVENTS) // n_players]
        decoy = "" if event else DECOYS[number % len(DECOYS)]
        region = regions[int(rng.integers(len(regions)))]
        truth = Truth(f"p{number:04d}", event, decoy, int(rng.integers(80, 140)), region)
        truths.append(truth)
        sessions.append(_sessions(truth, n_days, rng))
        checkins.append(_checkins(truth, n_days, regions, rng))
    players = pl.DataFrame(
        {"player_id": [t.player_id for t in truths], "alias": [t.player_id for t in truths], "health_consent": True}
    )
    return BodySquad(tuple(truths), players, pl.concat(sessions), pl.concat(checkins), n_days)


def _sessions(truth: Truth, n_days: int, rng: np.random.Generator) -> pl.DataFrame:
    day = np.arange(n_days)
    weekly = rng.permutation(7) < rng.integers(3, 6)
    trains = weekly[day % 7]
    swings = np.round(rng.uniform(60, 110) * np.exp(0.2 * rng.standard_normal(n_days)))
    effort = np.clip(np.round(5.5 + rng.standard_normal(n_days)), 4, 9)
    since = day - truth.onset
    if truth.event == "load":
        swings = np.where((since >= 0) & (since < 7), 2.2 * swings + 60, swings)
        trains = trains | ((since >= 0) & (since < 7))
    elif truth.event == "overuse":
        swings = np.where((since >= 0) & (since < 14), 2.0 * swings + 40, swings)
    elif truth.event == "stiffness":
        trains = trains & ~((since >= BREAK_DAYS) & (since < BREAK_DAYS + 21))
    elif truth.decoy == "holiday":
        trains = trains & ~((since >= 0) & (since < 14))
    elif truth.decoy == "flat easy weeks":
        easy = (since >= 0) & (since < 21)
        swings, effort, trains = np.where(easy, 40, swings), np.where(easy, 2, effort), trains | easy
    known = rng.random(n_days) > 0.05
    return pl.DataFrame(
        {
            "session_id": [f"{truth.player_id}-{number:03d}" for number in day],
            "player_id": truth.player_id,
            "started_at": [dt.datetime.combine(START + dt.timedelta(days=int(number)), dt.time(15)) for number in day],
            "kind": np.where(trains, "range", "rest").tolist(),
            "duration_min": np.where(trains, 70.0, 0.0),
            "effort": np.where(trains, effort, 0.0),
            "swings_full": pl.Series(np.where(trains, swings, 0).astype(np.int64)),
        }
    ).filter(pl.Series(known))


def _wave(n_days: int, spread: float, rng: np.random.Generator) -> np.ndarray:
    """A series whose days resemble the day before (.4)."""
    wave = rng.standard_normal(n_days)
    for day in range(1, n_days):
        wave[day] = 0.4 * wave[day - 1] + np.sqrt(1 - 0.16) * wave[day]
    return spread * wave


def _rise(truth: Truth, n_days: int, height: float) -> np.ndarray:
    since = np.arange(n_days) - truth.onset
    up = height * np.clip((since + 1) / RAMP_DAYS, 0, 1)
    down = np.clip(1 - (since - BREAK_DAYS) / 14, 0, 1)
    return np.where(since < 0, 0.0, up * down)


def _checkins(truth: Truth, n_days: int, regions: tuple[str, ...], rng: np.random.Generator) -> pl.DataFrame:
    answered = rng.random(n_days) < (0.6 if truth.decoy == "60 % reporter" else 0.8)
    columns = {}
    for region in regions:
        quiet = rng.random() < 0.6 and region != truth.region
        spread, level = (0.26, 0.4) if quiet else (0.87, rng.uniform(0.3, 3.0))
        value = level + _wave(n_days, spread, rng)
        if truth.decoy == "integer floor":
            value = 0.25 + _wave(n_days, 0.5, rng)
        if region == truth.region and truth.event in {"stiffness", "overuse"}:
            value = value + _rise(truth, n_days, 2.5 if truth.event == "stiffness" else 3.0)
        columns[f"stiff_{region}"] = np.clip(np.round(value), 0, 10)
    for name in ("fatigue", "soreness", "stress", "sleep_trouble"):
        columns[name] = np.clip(np.round(rng.uniform(1, 3) + _wave(n_days, 0.87, rng)), 0, 10)
    short = 1.5 * (np.arange(n_days) >= truth.onset) * (np.arange(n_days) < truth.onset + 21) * (truth.event == "overuse")
    columns["sleep_h"] = np.round(2 * (8.0 - short + _wave(n_days, 0.6, rng))) / 2
    dates = [START + dt.timedelta(days=number) for number in range(n_days)]
    return pl.DataFrame({"player_id": truth.player_id, "date": dates, **columns}).filter(pl.Series(answered))
