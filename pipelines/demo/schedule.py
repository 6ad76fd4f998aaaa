"""Who does what on which day: the sessions of one player, before a single ball is struck."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.demo.cast import LAST_ON, START_ON, Player
from pipelines.demo.effects import EMPTY, N_DAYS, Effect, day_number, trait_line
from pipelines.demo.phases import phase_line
from pipelines.demo.trials import TRIAL_DAYS
from pipelines.demo.weather import Weather, day_of_year

Words = NDArray[np.str_]

WEEKS: dict[str, tuple[str, ...]] = {
    "keen": ("rest", "range", "gym", "range", "rest", "course", "range"),
    "weekend": ("range", "rest", "range", "gym", "rest", "range", "course"),
    "senior": ("rest", "range", "rest", "gym", "range", "rest", "course"),
    "junior": ("range", "gym", "range", "rest", "rest", "range", "course"),
}
"""What the days of a week hold, Monday first."""

NEW_BAY_FROM, NEW_BAY_PLAYER = date(2026, 1, 12), "p22"
GUEST_PLAYER, GUEST_FROM = "p13", date(2025, 5, 1)
BAY_PLAYER = "p06"
"""The junior practises in the bay the whole year; one player moves to the new bay, another likes a guest range in summer."""

WINTER_SHARE = 0.85
"""Swings of a winter session over those of a summer one; the day for the course becomes one more day on the range."""

EFFORT = {"range": 4.0, "speed": 7.0, "trial": 5.0, "test": 4.0, "course": 4.0, "gym": 6.0}
MINUTES = {"range": 70.0, "speed": 40.0, "trial": 75.0, "test": 45.0, "course": 250.0, "gym": 55.0}


@dataclass(frozen=True)
class Days:
    """What one player plans and does by day, shape (days,); empty text: nothing."""

    planned: Words
    done: Words


def _winter() -> NDArray[np.bool_]:
    season = day_of_year()
    return (season > 312) | (season < 70)


def _closed() -> NDArray[np.bool_]:
    season = day_of_year()
    return (season >= 358) | (season <= 1)


def _first_of_month(kinds: Words) -> NDArray[np.bool_]:
    months = np.array([(START_ON + timedelta(days=day)).strftime("%Y-%m") for day in range(N_DAYS)])
    practice = np.flatnonzero(kinds == "range")
    first = practice[np.unique(months[practice], return_index=True)[1]]
    found = np.zeros(N_DAYS, dtype=bool)
    found[first] = True
    return found


def days_of(player: Player, effects: tuple[Effect, ...], rng: np.random.Generator) -> Days:
    """The player's days: the week's pattern, bent by seasons, phases, trials, absences and what nobody wrote down."""
    weekday = np.arange(N_DAYS) % 7
    kinds = np.array(WEEKS[player.week], dtype="<U8")[weekday]
    missed = rng.random(N_DAYS)
    phase = phase_line(player.player_id)
    kinds = np.where(_winter() & (kinds == "course"), "range", kinds)
    kinds = np.where((phase == "speed block") & ((kinds == "gym") | ((kinds == "rest") & (weekday == 4))), "speed", kinds)
    kinds = np.where((phase == "body block") & (kinds == "rest") & (weekday == 0), "gym", kinds)
    daily = trait_line(effects, player.player_id, "daily") > 0.5
    kinds = np.where(daily, "range", kinds)
    kinds = np.where(_first_of_month(kinds), "test", kinds)
    for day in TRIAL_DAYS.get(player.player_id, ()):
        kinds[day_number(day)] = "trial"
    kinds = np.where(_closed(), "rest", kinds)
    planned = _present(player, np.where(trait_line(effects, player.player_id, "away") > 0.5, EMPTY, kinds))
    forgotten = np.where(planned == "rest", missed < 0.10, (missed < 0.04) & (planned != "trial"))
    forgotten &= ~daily
    return Days(planned, np.where(forgotten, EMPTY, planned))


def _present(player: Player, kinds: Words) -> Words:
    left = player.left_on or LAST_ON
    day = np.arange(N_DAYS)
    return np.where((day >= day_number(player.joined_on)) & (day <= day_number(left)), kinds, EMPTY)


def sessions_of(player: Player, days: Days, effects: tuple[Effect, ...], air: Weather, rng: np.random.Generator) -> pl.DataFrame:
    """The player's sessions, one row each in order of days: device, place, load, effort, and how many shots are measured."""
    day = np.flatnonzero(days.done != EMPTY)
    kind = days.done[day]
    daily = trait_line(effects, player.player_id, "daily")[day] > 0.5
    load = trait_line(effects, player.player_id, "load")[day] * np.exp(
        np.where(daily, 0.03, 0.12) * rng.standard_normal(day.size)
    )
    full = _full_swings(player, kind) * load * np.where(_winter()[day], WINTER_SHARE, 1.0)
    device = _devices(player, day, kind, air, rng)
    effort = np.array([EFFORT.get(word, 0.0) for word in kind]) + np.where(daily, 0.0, 0.8) * rng.standard_normal(day.size)
    minutes = np.array([MINUTES.get(word, 0.0) for word in kind]) * np.sqrt(load) * np.exp(0.06 * rng.standard_normal(day.size))
    striking = np.isin(kind, ("range", "test", "trial", "course"))
    measured = _measured(kind, device, rng)
    n_balls = measured["n_warm_up"] + measured["n_driver"] + measured["n_iron"]
    return pl.DataFrame(
        {
            "player_id": np.full(day.size, player.player_id),
            "day": day,
            "kind": kind,
            "device_id": device,
            "start_min": 60 * rng.integers(8, 18, day.size) + 5 * rng.integers(0, 12, day.size),
            "duration_min": np.where(kind == "rest", 0.0, 5.0 * np.round(minutes / 5.0)),
            "effort": np.where(kind == "rest", 0.0, np.clip(np.round(effort + _felt(load)), 1, 10)),
            "swings_full": np.round(np.maximum(full, n_balls)),
            "swings_part": np.round(np.where(striking, 30.0, 0.0) * load),
            "swings_dry": np.round(np.where(kind == "speed", 45.0, np.where(striking, 20.0, 0.0)) * load),
            "holes": np.where(kind == "course", np.where(rng.random(day.size) < 0.8, 18, 9), 0),
            **measured,
        }
    )


def _felt(load: NDArray[np.float64]) -> NDArray[np.float64]:
    """What much more, or much less, than the usual adds to the rating of effort."""
    felt: NDArray[np.float64] = 1.2 * np.maximum(load - 1.3, 0.0) - 3.0 * np.maximum(0.7 - load, 0.0)
    return felt


def _full_swings(player: Player, kind: Words) -> NDArray[np.float64]:
    usual = {"range": player.full_swings, "trial": 90, "test": 28, "course": 36}
    return np.array([usual.get(word, 0) for word in kind], dtype=np.float64)


def planned_swings(player: Player, days: Days) -> NDArray[np.float64]:
    """Full swings that were meant for each day, shape (days,)."""
    return _full_swings(player, days.planned) * np.where(_winter(), WINTER_SHARE, 1.0)


def _devices(player: Player, day: NDArray[np.int64], kind: Words, air: Weather, rng: np.random.Generator) -> Words:
    season = day_of_year()[day]
    outdoors = (season > 91) & (season < 304) & ~air.is_wet[day] & (rng.random(day.size) < 0.85)
    if player.player_id == BAY_PLAYER:
        outdoors &= False
    device = np.where(outdoors, "unit-2", "unit-1")
    if player.player_id == GUEST_PLAYER:
        device = np.where(outdoors & (day >= day_number(GUEST_FROM)) & (rng.random(day.size) < 0.4), "unit-4", device)
    if player.player_id == NEW_BAY_PLAYER:
        device = np.where((device == "unit-1") & (day >= day_number(NEW_BAY_FROM)), "unit-3", device)
    device = np.where(np.isin(kind, ("test", "trial", "speed")), "unit-1", device)
    return np.where(np.isin(kind, ("range", "test", "trial", "speed")), device, EMPTY)


def _measured(kind: Words, device: Words, rng: np.random.Generator) -> dict[str, NDArray[np.int64]]:
    """Counts of measured shots: warm-up, driver, 7-iron, sticks; a fifth of range sessions is not measured."""
    n = kind.size
    practice = (kind == "range") & (device != EMPTY) & (rng.random(n) < 0.82)
    driver = np.round(np.exp(rng.uniform(np.log(7.0), np.log(18.0), n))).astype(np.int64)
    irons = np.where(rng.random(n) < 0.28, rng.integers(6, 12, n), 0)
    test, speed = kind == "test", kind == "speed"
    return {
        "n_warm_up": np.where(practice | test, rng.integers(1, 3, n), 0),
        "n_driver": np.where(test, 10, np.where(practice, driver, 0)),
        "n_iron": np.where(test, 10, np.where(practice, irons, 0)),
        "n_stick": np.where(speed, 10, 0),
    }
