"""Simulated trials: what a trial of this player would look like if the change did this and that."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.trial.design import TrialDesign
from pipelines.measures.trial.noise import PlayerNoise

Floats = NDArray[np.float64]

BEGIN = datetime(2026, 1, 5, 9, 0)  # noqa: DTZ001 - an invented instant; only the order matters


@dataclass(frozen=True)
class TrueChange:
    """What the change really does.

    Attributes
    ----------
    speed_pct : float
    left_right, long_short : float
        Scatter over that of normal.
    more_mishits : float
        Added to the share of mishits.
    day_pct : float
        SD of the effect on speed from day to day.
    """

    speed_pct: float = 0.0
    left_right: float = 1.0
    long_short: float = 1.0
    more_mishits: float = 0.0
    day_pct: float = 0.0


CARRY_PER_SPEED = 1.25
MISHIT_CARRY, MISHIT_CARRY_SD, MISHIT_OFFLINE = 0.70, 0.12, 2.5


def autoregression(n: int, correlation: float, rng: np.random.Generator) -> Floats:
    """Standard normal values, shape (n,), with this correlation of neighbours."""
    values = rng.standard_normal(n)
    for i in range(1, n):
        values[i] = correlation * values[i - 1] + np.sqrt(1 - correlation**2) * values[i]
    return values


def simulated_trial(
    design: TrialDesign, noise: PlayerNoise, changes: dict[str, TrueChange], rng: np.random.Generator
) -> pl.DataFrame:
    """Counting shots of a planned trial as :func:`trial_shots` takes them.

    Parameters
    ----------
    design : TrialDesign
    noise : PlayerNoise
    changes : dict of str to TrueChange
        By arm; arms that are not named are like normal.
    rng : Generator

    Notes
    -----
    Speed: level, session, drift, cold start, first-order autoregression. Carry follows speed (1.25 percent for one percent)
    with its own scatter; mishits carry 70 percent and scatter 2.5 times as far. Checked: tests/unit/test_trial_power.py
    """
    shots = design.shots.filter("counts")
    n = len(shots)
    day = shots["day_no"].to_numpy()
    effect = [changes.get(arm, TrueChange()) for arm in shots["arm"]]
    fields = ("speed_pct", "left_right", "long_short", "more_mishits")
    speed_pct, wide, long, missed = (np.array([getattr(one, name) for one in effect]) for name in fields)
    if any(change.day_pct for change in changes.values()):
        of_day = {arm: rng.normal(0.0, change.day_pct, design.n_days) for arm, change in changes.items()}
        speed_pct = speed_pct + np.array(
            [of_day[arm][at - 1] if arm in of_day else 0.0 for arm, at in zip(shots["arm"], day, strict=True)]
        )
    place = shots["shot_no"].to_numpy() / design.shots["shot_no"].max()
    session = rng.normal(0.0, noise.session_cv_pct, design.n_days)[day - 1]
    shot_noise = np.concatenate([autoregression(int(np.sum(day == d)), noise.correlation, rng) for d in np.unique(day)])
    percent = session + speed_pct + noise.drift_pct * place + noise.speed_cv_pct * shot_noise
    carry = noise.carry_m * (1 + CARRY_PER_SPEED * percent / 100) + noise.carry_sd_m * long * rng.standard_normal(n)
    offline = noise.offline_sd_m * wide * rng.standard_normal(n)
    bad = rng.random(n) < noise.mishit_rate + missed
    carry = np.where(bad, noise.carry_m * (MISHIT_CARRY + MISHIT_CARRY_SD * rng.standard_normal(n)), carry)
    offline = np.where(bad, offline * MISHIT_OFFLINE, offline)
    return (
        shots.select("day_no", "shot_no", "arm", "block_no")
        .with_columns(
            pl.format("day-{}", "day_no").alias("session_id"),
            (pl.lit(BEGIN.date()) + pl.duration(days="day_no")).alias("on_date"),
            (pl.lit(BEGIN) + pl.duration(days="day_no", minutes="shot_no")).alias("struck_at"),
            pl.lit("sim").alias("device_id"),
            pl.lit("driver").alias("club"),
            pl.lit("range").alias("ball"),
            pl.Series("club_speed_mps", noise.club_speed_mps * (1 + percent / 100)),
            pl.lit(None, dtype=pl.Float64).alias("ball_speed_mps"),
            pl.Series("carry_m", np.maximum(carry, 25.0)),
            pl.Series("offline_m", offline),
        )
        .drop("day_no")
    )


def first_rounds(design: TrialDesign, frame: pl.DataFrame, n_rounds: int) -> pl.DataFrame:
    """The shots of the first rounds of a simulated trial, counted over the days: what a look in the middle sees."""
    order = design.shots.filter(pl.col("round_no").is_not_null()).with_columns(
        ((pl.col("day_no") - 1) * design.n_rounds + pl.col("round_no")).alias("round"),
        pl.format("day-{}", "day_no").alias("session_id"),
    )
    seen = order.filter(pl.col("round") <= n_rounds).select("session_id", "shot_no")
    return frame.join(seen, on=["session_id", "shot_no"], how="semi", maintain_order="left")
