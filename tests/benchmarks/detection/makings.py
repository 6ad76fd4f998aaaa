"""Squads of several makings: how sessions scatter, how often they come, how players grow, age or follow the season.

Not the demo's generator and not the one on which limits were chosen (``squad.py``); written from what the literature on practice
data leads to expect, without looking at the detectors. The true level of every player on every day is kept.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace

import numpy as np
import polars as pl

START = dt.date(2025, 1, 6)
SIDE_M, WOBBLE = 14.0, 0.12
STEP, STEP_TO = "step", -0.025


@dataclass(frozen=True)
class Making:
    """One way in which players may be made.

    Attributes
    ----------
    name : str
    n_days : int
    form : float
        Standard deviation of the level between sessions.
    shot : float
        Between shots of a session.
    tails : float or None
        Degrees of freedom of form and shots; None: normal.
    correlated : float
        Share of players whose form follows the form of the session before by .4.
    season : float
        Half of the difference between summer and winter.
    growth : float
        Gain a year, of everybody.
    per_week : tuple of float
        Sessions a week, drawn for each player within these.
    skips_bad : bool
        On bad days players leave without a session half of the time.
    birth_year : int
    """

    name: str
    n_days: int = 180
    form: float = 0.007
    shot: float = 0.015
    tails: float | None = None
    correlated: float = 0.0
    season: float = 0.0
    growth: float = 0.0
    per_week: tuple[float, float] = (2.0, 4.0)
    skips_bad: bool = False
    birth_year: int = 1990


MAKINGS: dict[str, Making] = {
    one.name: one
    for one in (
        Making("normal"),
        Making("heavy tails", tails=4.0),
        Making("slow form in a quiet squad", correlated=0.2),
        Making("season", n_days=730, season=0.012, per_week=(1.0, 3.0)),
        Making("juniors", growth=0.04, birth_year=2011),
        Making("ageing", n_days=360, growth=-0.008, per_week=(1.0, 2.5), birth_year=1958),
        Making("irregular", n_days=360, per_week=(0.6, 1.4)),
        Making("bad days skipped", form=0.009, skips_bad=True),
    )
}

EVENTS: tuple[str, ...] = ("", "", "", "", STEP, "drift", "plateau", "scatter", "wild", "")
"""Tenths of the squad."""


@dataclass(frozen=True)
class Truth:
    """What is true of one player: the event and its day, the level by day [share of the base], and the base [m/s]."""

    player_id: str
    event: str
    onset: int
    level: np.ndarray = field(repr=False)
    base: float
    birth_year: int

    @property
    def onset_on(self) -> dt.date:
        return START + dt.timedelta(days=self.onset)


@dataclass(frozen=True)
class Made:
    """A squad of one making."""

    making: Making
    truths: tuple[Truth, ...]
    sessions: pl.DataFrame
    shots: pl.DataFrame


def made(making: Making, seed: int, n_players: int = 200, events: tuple[str, ...] = EVENTS) -> Made:
    rng = np.random.default_rng([20251124, seed])
    truths, sessions, shots = [], [], []
    for number in range(n_players):
        event = events[number * len(events) // n_players]
        truth = _truth(making, f"p{number:04d}", event, rng)
        one_sessions, one_shots = _player(making, truth, rng)
        truths.append(truth)
        sessions.append(one_sessions)
        shots.append(one_shots)
    return Made(making, tuple(truths), pl.concat(sessions), pl.concat(shots))


def _truth(making: Making, player_id: str, event: str, rng: np.random.Generator) -> Truth:
    day = np.arange(making.n_days)
    onset = int(rng.integers(making.n_days - 100, making.n_days - 60))
    ramp = np.clip((day - onset) / 42.0, 0.0, 1.0)
    level = making.growth * day / 365.25 + making.season * np.sin(2.0 * np.pi * (day - 90.0) / 365.25)
    if event == STEP:
        level = level + np.where(day >= onset, STEP_TO, 0.0)
    elif event == "drift":
        level = level - 0.02 * ramp
    elif event == "plateau":
        begin = onset - 84
        level = level + 0.012 * (np.clip(day, begin, onset) - begin) / 28.0
    elif event == "goes on":
        level = level + 0.012 * np.clip(day - (onset - 84), 0, None) / 28.0
    elif event == "slow":
        level = level + 0.003 * day / 28.0
    elif event == "block":
        onset = 60
        level = level + 0.03 * np.clip((day - onset) / 56.0, 0.0, 1.0)
    return Truth(player_id, event, onset, level, 45.0 * float(np.exp(0.06 * rng.standard_normal())), making.birth_year)


def _drawn(making: Making, n: int, rng: np.random.Generator) -> np.ndarray:
    if making.tails is None:
        return rng.standard_normal(n)
    return np.asarray(rng.standard_t(making.tails, n) / np.sqrt(making.tails / (making.tails - 2.0)))


def _player(making: Making, truth: Truth, rng: np.random.Generator) -> tuple[pl.DataFrame, pl.DataFrame]:
    day = np.flatnonzero(rng.random(making.n_days) < rng.uniform(*making.per_week) / 7.0)
    form = _drawn(making, day.size, rng)
    if rng.random() < making.correlated:
        for session in range(1, day.size):
            form[session] = 0.4 * form[session - 1] + np.sqrt(1.0 - 0.16) * form[session]
    if making.skips_bad:
        came = (form > -0.8) | (rng.random(day.size) < 0.5)
        day, form = day[came], form[came]
    n = np.exp(rng.uniform(np.log(10.0), np.log(60.0), day.size)).astype(int)
    of, on = np.repeat(np.arange(day.size), n), day >= truth.onset
    club = truth.base * np.exp((truth.level[day] + making.form * form)[of] + making.shot * _drawn(making, of.size, rng))
    mishit = rng.random(of.size) < np.where(on & (truth.event == "wild"), 0.15, 0.03)[of]
    ball = 1.45 * club * (1.0 + 0.012 * rng.standard_normal(of.size)) * np.where(mishit, 0.95, 1.0)
    carry = 3.25 * ball * (1.0 + 0.025 * rng.standard_normal(of.size))
    width = SIDE_M * (np.where(on & (truth.event == "scatter"), 2.0, 1.0) * np.exp(WOBBLE * rng.standard_normal(day.size)))[of]
    offline = 2.0 * rng.standard_normal(day.size)[of] + width * np.where(mishit, 3.0, 1.0) * rng.standard_normal(of.size)
    offline = np.clip(offline, -0.9 * carry, 0.9 * carry)
    dates = [START + dt.timedelta(days=int(one)) for one in day]
    ids = np.array([f"{truth.player_id}-{one:03d}" for one in day], dtype=object)
    started = [dt.datetime.combine(date, dt.time(15, 0)) for date in dates]
    number = np.concatenate([np.arange(1, count + 1) for count in n]) if day.size else np.array([], dtype=int)
    sessions = pl.DataFrame(
        {
            "session_id": ids.astype(str),
            "player_id": truth.player_id,
            "started_at": started,
            "kind": "range",
            "swings_full": n,
            "device_id": "bay-1",
            "ball": "premium",
            "indoors": True,
        }
    )
    shots = pl.DataFrame(
        {
            "session_id": ids.astype(str)[of],
            "player_id": truth.player_id,
            "shot_no": number,
            "struck_at": np.array(started, dtype="datetime64[us]")[of] + number * np.timedelta64(45_000_000, "us"),
            "club": "driver",
            "club_speed_mps": club.round(2),
            "ball_speed_mps": np.minimum(ball, 1.52 * club).round(2),
            "carry_m": carry.round(1),
            "offline_m": offline.round(1),
        }
    )
    return sessions, shots


@dataclass(frozen=True)
class Series:
    """Sessions of one player as their means alone: day, value [share], its variance, the true level; and the day of the event."""

    day: np.ndarray
    value: np.ndarray
    variance: np.ndarray
    true: np.ndarray
    onset: int


def session_values(making: Making, seed: int, event: str, n_players: int) -> list[Series]:
    """Means of sessions of players of a making, who all have one event, without their shots."""
    rng, found = np.random.default_rng([20251124, 3, seed]), []
    for number in range(n_players):
        truth = _truth(making, f"p{number:04d}", event, rng)
        day = np.flatnonzero(rng.random(making.n_days) < rng.uniform(*making.per_week) / 7.0)
        form = _drawn(making, day.size, rng)
        if making.skips_bad:
            came = (form > -0.8) | (rng.random(day.size) < 0.5)
            day, form = day[came], form[came]
        n = np.exp(rng.uniform(np.log(10.0), np.log(60.0), day.size)).astype(int)
        shots = making.shot * rng.standard_normal(day.size) / np.sqrt(n)
        variance = making.form**2 + making.shot**2 / n
        value = truth.level[day] + making.form * form + shots
        found.append(Series(day.astype(float), value, variance, truth.level[day], truth.onset))
    return found


MOVED_ON, MOVED_BY = 90, 0.02


def with_device(squad: Made, way: str, seed: int) -> Made:
    """The squad on devices of which one reads 2 % more from a day on.

    ``two bays``: sessions are drawn on two bays, and both readings of one are off; ``one reading``: one bay, club speed alone.
    """
    rng = np.random.default_rng([7, seed])
    if way == "two bays":
        bays = np.where(rng.random(squad.sessions.height) < 0.5, "bay-1", "bay-2")
        sessions = squad.sessions.with_columns(pl.Series("device_id", bays))
    else:
        sessions = squad.sessions
    moved = sessions.select(
        "session_id",
        off=(pl.col("device_id") == "bay-1") & (pl.col("started_at").dt.date() >= START + dt.timedelta(days=MOVED_ON)),
    )
    factor = pl.when("off").then(1.0 + MOVED_BY).otherwise(1.0)
    readings = ["club_speed_mps", "ball_speed_mps"] if way == "two bays" else ["club_speed_mps"]
    shots = squad.shots.join(moved, on="session_id", maintain_order="left")
    return replace(squad, sessions=sessions, shots=shots.with_columns(pl.col(readings) * factor).drop("off"))
