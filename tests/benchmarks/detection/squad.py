"""A simulated squad whose truth is known: not the demo's generator, and written without looking at the detectors.

Form between sessions .7 %, shots 1.5 %, 10 to 80 shots a session (log-uniform), 2 to 4 sessions a week, every third player with
a gap of two weeks, 4 % odd sessions (3 to 5 form deviations off), left-right SD 14 m with 5 % mishits three times as wide, log
spread of a session wobbling by .12.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl

START = dt.date(2026, 1, 5)
FORM, SHOT, SIDE_M, WOBBLE = 0.007, 0.015, 14.0, 0.12
RAMP_DAYS = 42.0

EVENTS: tuple[str, ...] = ("drift", "plateau", "scatter", "transfer", "cost")
DECOYS: tuple[str, ...] = ("odd sessions only", "correlated form", "slow rise", "new bay", "holiday")
WINDOW_DAYS: dict[str, int] = {"drift": 60, "plateau": 56, "scatter": 28, "transfer": 91, "cost": 91}
KIND: dict[str, str] = {
    "drift": "speed_fall",
    "plateau": "speed_stall",
    "scatter": "scatter_rise",
    "transfer": "transfer_loss",
    "cost": "speed_cost",
}
CHANGES: tuple[str, ...] = ("drift", "plateau", "scatter", "transfer", "cost", "", "", "")
"""One eighth of the squad each; three eighths without any event share the decoys."""

TRADES: tuple[str, ...] = ("transfer", "cost", "", "")
"""For the rules that compare a month with the months before: needs a longer history."""

COLD_WEEK = (100, 107)
"""In this week, for everybody: carry 4 % short, the pattern 1.3 times as wide, nobody slower."""


@dataclass(frozen=True)
class Truth:
    """What is true of one simulated player: event or decoy, and the day on which it began."""

    player_id: str
    event: str
    decoy: str
    onset: int

    @property
    def onset_on(self) -> dt.date:
        return START + dt.timedelta(days=self.onset)


@dataclass(frozen=True)
class Squad:
    truths: tuple[Truth, ...]
    sessions: pl.DataFrame
    shots: pl.DataFrame
    n_days: int


def squad(
    seed: int,
    n_players: int = 400,
    n_days: int = 180,
    shares: tuple[str, ...] = CHANGES,
    onsets: tuple[int, int] = (80, 140),
) -> Squad:
    rng = np.random.default_rng([20260105, seed])
    truths, sessions, shots = [], [], []
    for number in range(n_players):
        event = shares[number * len(shares) // n_players]
        decoy = "" if event else DECOYS[number % len(DECOYS)]
        truth = Truth(f"p{number:04d}", event, decoy, int(rng.integers(*onsets)))
        days = _days(truth, n_days, rng)
        one_sessions, one_shots = _player(truth, days, rng)
        truths.append(truth)
        sessions.append(one_sessions)
        shots.append(one_shots)
    return Squad(tuple(truths), pl.concat(sessions), pl.concat(shots), n_days)


def _days(truth: Truth, n_days: int, rng: np.random.Generator) -> np.ndarray:
    days = np.flatnonzero(rng.random(n_days) < rng.integers(2, 5) / 7.0)
    gap = int(rng.integers(30, n_days - 40))
    if truth.decoy == "holiday" or rng.random() < 0.3:
        days = days[(days < gap) | (days >= gap + 14)]
    return days


def _player(truth: Truth, day: np.ndarray, rng: np.random.Generator) -> tuple[pl.DataFrame, pl.DataFrame]:
    since = np.clip(day - truth.onset, 0, None) / RAMP_DAYS
    ramp, on = np.clip(since, 0.0, 1.0), day >= truth.onset
    speed, ball, side = np.zeros(day.size), np.zeros(day.size), np.ones(day.size)
    if truth.event == "drift":
        speed = -0.02 * ramp
    elif truth.event == "plateau":
        speed = 0.012 * np.minimum(day, truth.onset) / 28.0
    elif truth.event == "scatter":
        side = np.where(on, 2.0, 1.0)
    elif truth.event == "transfer":
        speed, ball = 0.03 * ramp, -0.03 * ramp
    elif truth.event == "cost":
        speed, side = 0.04 * ramp, 1.0 + 0.45 * ramp
    elif truth.decoy == "slow rise":
        speed = 0.003 * day / 28.0
    bay = np.where((truth.decoy == "new bay") & (day >= truth.onset), "bay-9", "bay-1")
    speed = speed + np.where(bay == "bay-9", 0.015, 0.0)
    n = np.exp(rng.uniform(np.log(10.0), np.log(80.0), day.size)).astype(int)
    of = np.repeat(np.arange(day.size), n)
    session_ids = np.array([f"{truth.player_id}-{d:03d}" for d in day])
    cold = (day >= COLD_WEEK[0]) & (day < COLD_WEEK[1])
    form = _form(truth, day.size, rng)
    level = 45.0 * np.exp(0.06 * rng.standard_normal())
    club = level * (1.0 + speed + form)[of] * (1.0 + SHOT * rng.standard_normal(of.size))
    mishit = rng.random(of.size) < 0.05
    ball_speed = 1.45 * club * (1.0 + ball[of]) * (1.0 + 0.012 * rng.standard_normal(of.size)) * np.where(mishit, 0.95, 1.0)
    carry = 3.25 * ball_speed * (1.0 + 0.025 * rng.standard_normal(of.size)) * np.where(cold, 0.96, 1.0)[of]
    width = SIDE_M * (side * np.where(cold, 1.3, 1.0) * np.exp(WOBBLE * rng.standard_normal(day.size)))[of]
    aim = 2.0 * rng.standard_normal(day.size)[of]
    offline = aim + width * np.where(mishit, 3.0, 1.0) * rng.standard_normal(of.size)
    offline = np.clip(offline, -0.9 * carry, 0.9 * carry)
    dates = [START + dt.timedelta(days=int(d)) for d in day]
    sessions = pl.DataFrame(
        {
            "session_id": session_ids,
            "player_id": truth.player_id,
            "started_at": [dt.datetime.combine(date, dt.time(15, 0)) for date in dates],
            "kind": "range",
            "swings_full": n,
            "device_id": bay,
            "ball": "premium",
            "indoors": True,
        }
    )
    number = np.concatenate([np.arange(1, count + 1) for count in n]) if day.size else np.array([], dtype=int)
    shots = pl.DataFrame(
        {
            "session_id": session_ids[of],
            "player_id": truth.player_id,
            "shot_no": number,
            "struck_at": np.array(sessions["started_at"].to_list(), dtype="datetime64[us]")[of]
            + number * np.timedelta64(45_000_000, "us"),
            "club": "driver",
            "club_speed_mps": club.round(2),
            "ball_speed_mps": np.minimum(ball_speed, 1.52 * club).round(2),
            "carry_m": carry.round(1),
            "offline_m": offline.round(1),
            "launch_deg": (13.0 + 1.2 * rng.standard_normal(of.size)).round(1),
            "direction_deg": np.degrees(np.arctan2(offline, carry)).round(1),
            "spin_rpm": (2700.0 + 200.0 * rng.standard_normal(of.size)).round(0),
        }
    )
    return sessions, shots


def _form(truth: Truth, n: int, rng: np.random.Generator) -> np.ndarray:
    form = rng.standard_normal(n)
    if truth.decoy == "correlated form":
        for session in range(1, n):
            form[session] = 0.4 * form[session - 1] + np.sqrt(1.0 - 0.16) * form[session]
    odd = rng.random(n) < 0.04
    return FORM * np.where(odd, np.sign(rng.standard_normal(n)) * rng.uniform(3.0, 5.0, n), form)
