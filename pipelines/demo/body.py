"""What players report of themselves: daily check-ins, the weekly problem form, absences, mobility screens."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.demo.cast import LAST_ON, START_ON, Player
from pipelines.demo.effects import EMPTY, N_DAYS, Effect, day_number, trait_line
from pipelines.demo.schedule import Days
from schemas.regions import REGIONS

Floats = NDArray[np.float64]

ITEMS = ("fatigue", "soreness", "stress", "sleep_trouble")
_BUSY = ("lower_back", "lead_wrist", "trail_elbow", "lead_shoulder")
"""Regions that golfers name most; the others are mostly zero."""
NEAR_ZERO = "p02"
"""A player who answers nearly always 0."""
_BY_MISTAKE = (day_number(date(2026, 6, 8)), day_number(date(2026, 6, 14)))
"""In this week a player without consent answered all the same; nothing of it may be kept."""
MEMORY, SPREAD = 0.4, 0.87

ABSENCES: tuple[tuple[str, date, date | None, str, str, str], ...] = (
    ("p03", date(2025, 2, 10), date(2025, 2, 16), "illness", "", ""),
    ("p21", date(2025, 7, 21), date(2025, 8, 3), "other", "", ""),
    ("p11", date(2025, 9, 18), date(2025, 10, 12), "injury", "lower_back", "gradual"),
    ("p16", date(2025, 11, 17), date(2025, 11, 23), "illness", "", ""),
    ("p21", date(2026, 2, 9), date(2026, 2, 22), "other", "", ""),
)
"""Player, first day, last day, kind, region, onset."""

REPORTED_PROBLEMS: tuple[tuple[str, date, str, int, int, int, int, str], ...] = (
    ("p01", date(2026, 9, 6), "lower_back", 1, 0, 0, 1, "gradual"),
    ("p07", date(2024, 7, 21), "trail_knee", 1, 1, 0, 1, "gradual"),
    ("p11", date(2025, 9, 14), "lower_back", 1, 1, 1, 2, "gradual"),
    ("p11", date(2025, 9, 21), "lower_back", 3, 3, 3, 3, "gradual"),
    ("p11", date(2025, 9, 28), "lower_back", 3, 3, 3, 2, "gradual"),
    ("p11", date(2025, 10, 5), "lower_back", 3, 3, 3, 2, "gradual"),
    ("p11", date(2025, 10, 12), "lower_back", 2, 2, 1, 1, "gradual"),
    ("p11", date(2025, 10, 19), "lower_back", 1, 1, 1, 1, "gradual"),
    ("p13", date(2026, 6, 7), "trail_elbow", 1, 2, 2, 2, "gradual"),
    ("p13", date(2026, 6, 14), "trail_elbow", 2, 2, 2, 2, "gradual"),
    ("p13", date(2026, 6, 21), "trail_elbow", 1, 2, 1, 2, "gradual"),
    ("p13", date(2026, 6, 28), "trail_elbow", 1, 2, 1, 1, "gradual"),
    ("p16", date(2025, 8, 10), "lead_wrist", 1, 1, 1, 1, "sudden"),
    ("p17", date(2026, 9, 20), "lead_wrist", 1, 1, 1, 2, "gradual"),
)
"""Player, week, region, participation, modified, performance, symptoms, onset: all other forms say that nothing is wrong."""


def _memory_line(rng: np.random.Generator, spread: float) -> Floats:
    steps = rng.standard_normal(N_DAYS)
    line = np.empty(N_DAYS)
    line[0] = steps[0]
    for day in range(1, N_DAYS):
        line[day] = MEMORY * line[day - 1] + np.sqrt(1.0 - MEMORY**2) * steps[day]
    return spread * line


def _rating(player: Player, level: float, spread: float, felt: Floats, rng: np.random.Generator) -> Floats:
    if player.player_id == NEAR_ZERO:
        level, spread, felt = -0.4, 0.5, np.zeros(N_DAYS)
    return np.clip(np.round(level + _memory_line(rng, spread) + felt), 0.0, 10.0)


def answered_days(player: Player, days: Days, effects: tuple[Effect, ...], rng: np.random.Generator) -> NDArray[np.int64]:
    """Days on which the player answers."""
    on = np.arange(N_DAYS)
    here = (on >= day_number(player.joined_on)) & (on <= day_number(player.left_on or LAST_ON))
    silent = trait_line(effects, player.player_id, "silent") > 0.5
    away = (trait_line(effects, player.player_id, "away") > 0.5) & (days.planned == EMPTY)
    share = player.answers * np.where(away, 0.7, 1.0) * (1.0 - trait_line(effects, player.player_id, "unanswered"))
    return np.flatnonzero(here & ~silent & (rng.random(N_DAYS) < share))


def checkins_of(
    player: Player, days: Days, swings: Floats, effects: tuple[Effect, ...], rng: np.random.Generator
) -> pl.DataFrame:
    """The player's check-ins: whole numbers around the own normal, a little more on the day after many swings.

    Parameters
    ----------
    player : Player
    days : Days
    swings : numpy.ndarray
        Full swings by day, shape (days,).
    effects : tuple of Effect
    rng : numpy.random.Generator
    """
    day = answered_days(player, days, effects, rng)
    yesterday = np.concatenate([[0.0], np.minimum(swings[:-1] / max(player.full_swings, 1), 3.0)])
    line = {
        trait: trait_line(effects, player.player_id, trait) for trait in (*ITEMS, "sleep_h", *(f"stiff_{r}" for r in REGIONS))
    }
    columns: dict[str, Floats] = {
        item: _rating(player, rng.uniform(1.2, 2.8), SPREAD, 0.4 * yesterday + line[item], rng) for item in ITEMS
    }
    columns["sleep_h"] = np.clip(np.round(2.0 * (7.6 + _memory_line(rng, 0.7) + line["sleep_h"])) / 2.0, 3.0, 11.0)
    for region in REGIONS:
        busy = region in _BUSY
        level, spread = (rng.uniform(0.6, 2.0), SPREAD) if busy else (rng.uniform(-0.6, 0.1), 0.45)
        felt = line[f"stiff_{region}"] + (0.2 * yesterday if region == "lower_back" else 0.0)
        columns[f"stiff_{region}"] = _rating(player, level, spread, felt, rng)
    skipped = rng.random((len(columns), day.size)) < 0.02
    frame = pl.DataFrame({"player_id": np.full(day.size, player.player_id), "day": day})
    answered = frame.with_columns(
        pl.Series(name, np.where(skipped[row], np.nan, values[day])).fill_nan(None)
        for row, (name, values) in enumerate(columns.items())
    ).with_columns(pl.exclude("player_id", "day", "sleep_h").cast(pl.Int64))
    return answered.filter(pl.lit(player.consent) | pl.col("day").is_between(*_BY_MISTAKE))


def problem_forms(player: Player, effects: tuple[Effect, ...], rng: np.random.Generator) -> pl.DataFrame:
    """The player's weekly forms, on Sundays; a week without trouble is one row that says so."""
    told = {week: answer for who, week, *answer in REPORTED_PROBLEMS if who == player.player_id}
    silent = trait_line(effects, player.player_id, "silent") > 0.5
    rows: list[tuple[object, ...]] = []
    for day in range(6, N_DAYS, 7):
        on = START_ON + timedelta(days=day)
        filled = player.consent and rng.random() < player.answers
        if on in told:
            rows.append((player.player_id, on, *told[on]))
        elif filled and player.joined_on <= on <= (player.left_on or LAST_ON) and not silent[day]:
            rows.append((player.player_id, on, "other", 0, None, None, None, None))
    columns = ["player_id", "week_ending", "region", "participation", "modified", "performance", "symptoms", "onset"]
    whole = dict.fromkeys(("participation", "modified", "performance", "symptoms"), pl.Int64())
    schema = {name: whole.get(name, pl.Date() if name == "week_ending" else pl.String()) for name in columns}
    return pl.DataFrame(rows, schema=schema, orient="row")


def absences(player_ids: frozenset[str]) -> pl.DataFrame:
    """All absences of some players, in order of their first day."""
    days = dict.fromkeys(("began_on", "ended_on"), pl.Date())
    schema = {name: days.get(name, pl.String()) for name in ("player_id", "began_on", "ended_on", "kind", "region", "onset")}
    rows = sorted(row for row in ABSENCES if row[0] in player_ids)
    frame = pl.DataFrame(rows, schema=schema, orient="row").sort("began_on", "player_id")
    return frame.with_columns(pl.col("region", "onset").replace("", None))


def mobility_of(player: Player, effects: tuple[Effect, ...], rng: np.random.Generator) -> pl.DataFrame:
    """The player's mobility screens, every thirteen weeks; day-to-day spread of 1.7 degrees."""
    age = 2025 - player.birth_year
    own = {"trunk_turn": 52.0 - 0.18 * age, "hip_inward_turn": 36.0 - 0.12 * age}
    level = {(test, side): value + rng.normal(0.0, 3.0) for test, value in own.items() for side in ("lead", "trail")}
    stiff = trait_line(effects, player.player_id, "stiff_lower_back")
    rows = [
        (player.player_id, day, test, side, round(value - 2.0 * stiff[day] + rng.normal(0.0, 1.7)))
        for day in range(12, N_DAYS, 91)
        for (test, side), value in level.items()
        if player.consent and player.joined_on <= START_ON + timedelta(days=day) <= (player.left_on or LAST_ON)
    ]
    return pl.DataFrame(
        rows,
        schema={"player_id": pl.String(), "day": pl.Int64(), "test": pl.String(), "side": pl.String(), "value_deg": pl.Int64()},
        orient="row",
    )
