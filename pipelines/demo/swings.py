"""The swings of one player's sessions: which club, how fast, where the head was going, where the ball met the face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.demo.cast import Player
from pipelines.demo.effects import EMPTY, Effect, trait_line
from pipelines.demo.stories import QUIET_PLAYERS
from pipelines.demo.trials import TRIALS, Trial, block_order
from pipelines.demo.truth import ArmTruth
from pipelines.demo.weather import Weather

Floats = NDArray[np.float64]

FORM_SD, FORM_MEMORY, ODD_SHARE = 0.007, 0.35, 0.035
"""Session-to-session spread of speed, how much of it stays for the next session, and the share of odd sessions."""
STEADY_SHARE = 0.6
"""Spread of the form of the players who must stay quiet, over that of the others: their silence must not hang on luck."""


@dataclass(frozen=True)
class Club:
    """How one club is swung and what it is: share of driver speed, attack and loft at impact, scatter, head."""

    speed_share: float
    attack_deg: float
    loft_deg: float
    scatter: float


CLUBS: dict[str, Club] = {
    "driver": Club(1.0, 0.0, 13.4, 1.0),
    "7-iron": Club(0.785, -4.0, 23.5, 0.85),
    "light-stick": Club(1.19, 0.0, 0.0, 1.0),
    "heavy-stick": Club(0.97, 0.0, 0.0, 1.0),
}

FACE_SD_DEG: dict[str, float] = {"tour": 1.25, "scratch": 1.45, "80": 1.8, "90": 2.5, "100": 3.4}
"""Shot-to-shot spread of the face with the driver, by standard.

Calibrated: [Broadie2008], spread of direction by skill group, so it is no check of
tests/published/test_demo_physics.py::test_direction_spreads_as_published_for_the_standard.
"""

WILD_FROM = 4.5
"""A wild swing's face is off by so many of its standard deviations and more."""

MISHIT_SHARE: dict[str, float] = {"tour": 0.05, "scratch": 0.05, "80": 0.06, "90": 0.07, "100": 0.08}
_STRIKE_SHARE: dict[str, float] = {"tour": 0.75, "scratch": 0.85, "80": 1.0, "90": 1.2, "100": 1.4}


def trial_of(player_id: str) -> Trial | None:
    """The trial of a player; nobody has two."""
    return next((trial for trial in TRIALS if trial.truth.player_id == player_id), None)


def _row_of_swings(
    session: int, club: str, n: int, share: float, counts: bool, arm: str = EMPTY, block: int = 0
) -> dict[str, object]:
    return {"session": session, "club": club, "n": n, "effort_share": share, "counts": counts, "arm": arm, "block_no": block}


def _trial_rows(session: int, trial: Trial, rng: np.random.Generator) -> list[dict[str, object]]:
    warm_up = [_row_of_swings(session, "driver", trial.warm_up, 0.93, False)] if trial.warm_up else []
    blocks = enumerate(block_order(trial, rng), start=1)
    return warm_up + [_row_of_swings(session, "driver", trial.block_shots, 1.0, True, arm, number) for number, arm in blocks]


def _groups(sessions: pl.DataFrame, trial: Trial | None, rng: np.random.Generator) -> pl.DataFrame:
    """Groups of like swings in the order in which they were struck."""
    rows: list[dict[str, object]] = []
    columns = sessions.select("kind", "n_warm_up", "n_iron", "n_driver", "n_stick").iter_rows()
    for session, (kind, warm_up, iron, driver, stick) in enumerate(columns):
        if kind == "trial" and trial is not None:
            rows += _trial_rows(session, trial, rng)
        rows += [
            _row_of_swings(session, club, n, share, counts)
            for club, n, share, counts in (
                ("7-iron", warm_up, 0.85, False),
                ("7-iron", iron, 1.0, True),
                ("driver", driver, 1.0, True),
                ("light-stick", stick // 2, 1.0, False),
                ("heavy-stick", stick - stick // 2, 1.0, False),
            )
            if n
        ]
    return pl.DataFrame(rows, schema=["session", "club", "n", "effort_share", "counts", "arm", "block_no"])


def _form(n: int, spread: float, rng: np.random.Generator) -> Floats:
    steps = rng.standard_normal(n)
    line = np.empty(n)
    for session in range(n):
        before = line[session - 1] if session else steps[session]
        line[session] = FORM_MEMORY * before + np.sqrt(1.0 - FORM_MEMORY**2) * steps[session]
    odd = rng.random(n) < ODD_SHARE
    side = np.where(rng.random(n) < 0.5, -1.0, 1.0)
    return FORM_SD * np.where(odd, side * rng.uniform(3.0, 4.0, n), spread * line)


def _own_loft(player: Player) -> float:
    """Loft that a player adds to the driver: slower swings use more of it, and so does hitting up."""
    return 0.32 * max(50.0 - player.driver_mps, 0.0) + 0.5 * player.attack_deg


def _wildly(deviation: Floats, wild: NDArray[np.bool_]) -> Floats:
    """Standard deviations of the face, those of wild swings far to their side."""
    return np.where(wild, np.sign(deviation) * (WILD_FROM + np.abs(deviation)), deviation)


def _arm_values(arms: tuple[ArmTruth, ...], named: NDArray[np.str_], quantity: str) -> Floats:
    values = np.zeros(named.size)
    for arm in arms:
        values[named == arm.arm] = getattr(arm, quantity)
    return values


def swings_of(
    player: Player, sessions: pl.DataFrame, effects: tuple[Effect, ...], air: Weather, rng: np.random.Generator
) -> pl.DataFrame:
    """Every measured swing of a player, one row each: speed, club delivery and strike, as if right-handed.

    The column ``session`` is the row of ``sessions`` that the swing belongs to.
    """
    trial = trial_of(player.player_id)
    groups = _groups(sessions, trial, rng)
    swings = groups.select(pl.exclude("n").repeat_by("n").explode(empty_as_null=False, keep_nulls=False))
    session = swings["session"].to_numpy()
    day = sessions["day"].to_numpy()[session]
    club, arm = swings["club"].to_numpy().astype(str), swings["arm"].to_numpy().astype(str)
    arms = trial.truth.arms if trial else ()

    def line(trait: str) -> Floats:
        values: Floats = trait_line(effects, player.player_id, trait)[day]
        return values

    def of_day(spread: float) -> Floats:
        values: Floats = spread * rng.standard_normal(sessions.height)[session]
        return values

    def of_club(quantity: str) -> Floats:
        return np.array([getattr(CLUBS[name], quantity) for name in club], dtype=np.float64)

    n, n_sessions = swings.height, sessions.height
    luck = rng.random(n)
    mishit = luck < MISHIT_SHARE[player.standard]
    wild = ~mishit & (luck < MISHIT_SHARE[player.standard] + line("wild") * (club == "driver"))
    wobble = np.exp(0.10 * rng.standard_normal(n_sessions))[session]
    scatter = line("scatter") * (1.0 + _arm_values(arms, arm, "scatter")) * wobble * of_club("scatter")
    outdoors = np.isin(sessions["device_id"].to_numpy().astype(str)[session], ("unit-2", "unit-4"))
    mittens = 1.0 - np.where(outdoors, 0.0004 * np.maximum(8.0 - air.temp_c[day], 0.0), 0.0)
    speed = player.driver_mps * of_club("speed_share") * line("speed") * (1.0 + _arm_values(arms, arm, "speed")) * mittens
    speed *= (1.0 + _form(n_sessions, STEADY_SHARE if player.player_id in QUIET_PLAYERS else 1.0, rng)[session]) * swings[
        "effort_share"
    ].to_numpy()
    speed *= (1.0 + player.shot_cv * rng.standard_normal(n)) * np.where(mishit, 0.985, 1.0)
    path = player.path_deg + _arm_values(arms, arm, "path_deg") + line("path_deg") + of_day(0.4)
    aim = line("aim_deg") + of_day(0.25)
    face_sd = FACE_SD_DEG[player.standard] * scatter * np.where(mishit, 2.6, 1.0)
    strike = _STRIKE_SHARE[player.standard] * np.where(mishit, 2.2, 1.0) * np.minimum(line("scatter"), 1.0)
    is_wood = of_club("loft_deg") < 20.0
    attack = of_club("attack_deg") + np.where(is_wood, player.attack_deg, 0.0) + _arm_values(arms, arm, "attack_deg")
    loft = of_club("loft_deg") + np.where(is_wood, _own_loft(player), 0.0) + _arm_values(arms, arm, "loft_deg")
    strike_side = line("strike_side_mm") + _arm_values(arms, arm, "strike_side_mm") + of_day(1.5)
    return swings.with_columns(
        day=day,
        speed_mps=speed,
        attack_deg=attack + of_day(0.35) + 0.8 * rng.standard_normal(n),
        path_deg=path + aim + 0.9 * np.sqrt(scatter) * rng.standard_normal(n),
        face_deg=0.45 * path + aim + np.clip(face_sd * _wildly(rng.standard_normal(n), wild), -14.0, 14.0),
        loft_deg=loft + line("loft_deg") + of_day(0.35) + 0.8 * rng.standard_normal(n),
        strike_side_mm=np.clip(strike_side + 7.0 * strike * rng.standard_normal(n), -34.0, 34.0),
        strike_height_mm=np.clip(4.5 * strike * rng.standard_normal(n) - np.where(mishit, 3.0, 0.0), -20.0, 20.0),
    )
