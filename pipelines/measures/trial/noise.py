"""How much a player's own shots vary: estimated from past sessions, with the program's assumption where they are too few."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from pipelines.measures.scatter import is_short_shot

LEAST_SHOTS = 30
LEAST_SESSIONS = 4
LEAST_PER_SESSION = 5
ROBUST = 1.4826


@dataclass(frozen=True)
class PlayerNoise:
    """How much this player's shots vary when nothing is changed.

    Attributes
    ----------
    club_speed_mps : float
        Level.
    speed_cv_pct : float
        SD of club speed from shot to shot, in percent of the level.
    session_cv_pct : float
        SD of the level from session to session.
    correlation : float
        Of neighbouring shots.
    drift_pct : float
        Change of speed over a session, cold start apart.
    carry_m, carry_sd_m : float
        Carry of shots that are no mishits.
    offline_sd_m : float
    mishit_rate : float
    """

    club_speed_mps: float = 45.0
    speed_cv_pct: float = 1.5
    session_cv_pct: float = 0.7
    correlation: float = 0.15
    drift_pct: float = -1.0
    carry_m: float = 215.0
    carry_sd_m: float = 9.0
    offline_sd_m: float = 13.0
    mishit_rate: float = 0.0


@dataclass(frozen=True)
class OwnNoise:
    """A player's noise, and which parts of it are the player's own.

    Attributes
    ----------
    noise : PlayerNoise
    n_shots, n_sessions : int
        Behind it.
    assumed : tuple of str
        Parts that are assumptions because the history is too short: speed, session, carry, offline.
    """

    noise: PlayerNoise
    n_shots: int
    n_sessions: int
    assumed: tuple[str, ...]


def own_noise(shots: pl.DataFrame, assumption: PlayerNoise | None = None) -> OwnNoise:
    """Noise of one player with one club, from counting shots of the normal swing.

    Parameters
    ----------
    shots : polars.DataFrame
        ``session_id, shot_no, club_speed_mps, carry_m, offline_m``; nulls allowed.
    assumption : PlayerNoise or None
        What is taken where there are fewer than 30 shots, or fewer than 4 sessions for the part between sessions.

    Returns
    -------
    OwnNoise

    Notes
    -----
    Shot-to-shot SD is pooled over sessions of 5 shots or more; neighbouring shots give the correlation, kept between 0 and
    .5. The part between sessions is the SD of session means less what the shots explain. Carry and offline use 1.4826 times the
    median absolute deviation inside sessions, so that mishits do not widen them.
    Checked: tests/unit/test_trial_power.py
    """
    base = assumption or PlayerNoise()
    assumed: list[str] = []
    speeds = _sessions(shots, "club_speed_mps")
    noise, n_speed = base, sum(len(one) for one in speeds)
    if n_speed >= LEAST_SHOTS:
        noise = _speed_noise(noise, speeds)
    else:
        assumed.append("speed")
    if len(speeds) >= LEAST_SESSIONS and n_speed >= LEAST_SHOTS:
        noise = replace(noise, session_cv_pct=_between_sessions(speeds, noise))
    else:
        assumed.append("session")
    carry, offline = _sessions(shots, "carry_m"), _sessions(shots, "offline_m")
    if sum(len(one) for one in carry) >= LEAST_SHOTS:
        pooled = np.concatenate(carry)
        missed = is_short_shot(pooled)
        rate = (missed.sum() + 1.0) / (len(pooled) + 13.0)
        noise = replace(noise, carry_m=float(pooled[~missed].mean()), carry_sd_m=_robust_sd(carry), mishit_rate=float(rate))
    else:
        assumed.append("carry")
    if sum(len(one) for one in offline) >= LEAST_SHOTS:
        noise = replace(noise, offline_sd_m=_robust_sd(offline))
    else:
        assumed.append("offline")
    return OwnNoise(noise, len(shots), len(speeds), tuple(assumed))


def _sessions(shots: pl.DataFrame, metric: str) -> list[np.ndarray[tuple[int], np.dtype[np.float64]]]:
    parts = shots.drop_nulls(metric).sort("session_id", "shot_no").partition_by("session_id", maintain_order=True)
    return [part[metric].to_numpy() for part in parts if len(part) >= LEAST_PER_SESSION]


def _speed_noise(base: PlayerNoise, speeds: list[np.ndarray[tuple[int], np.dtype[np.float64]]]) -> PlayerNoise:
    away = [one - one.mean() for one in speeds]
    degrees = sum(len(one) - 1 for one in speeds)
    variance = sum(float(one @ one) for one in away) / degrees
    product = sum(float(one[1:] @ one[:-1]) for one in away) / sum(len(one) - 1 for one in away)
    level = float(np.mean(np.concatenate(speeds)))
    # removing the session's mean lowers the correlation of neighbours by about one over the shots of a session
    lag = product / variance + 1.0 / float(np.mean([len(one) for one in speeds]))
    return replace(
        base,
        club_speed_mps=level,
        speed_cv_pct=100 * float(np.sqrt(variance)) / level,
        correlation=float(np.clip(lag, 0.0, 0.5)),
    )


def _between_sessions(speeds: list[np.ndarray[tuple[int], np.dtype[np.float64]]], noise: PlayerNoise) -> float:
    means = np.array([one.mean() for one in speeds])
    shot_variance = (noise.speed_cv_pct / 100 * noise.club_speed_mps) ** 2
    steps = np.diff(means)
    between = float(np.mean(steps**2)) / 2 - shot_variance * float(np.mean([1 / len(one) for one in speeds]))
    return 100 * float(np.sqrt(max(between, 0.0))) / noise.club_speed_mps


def _robust_sd(sessions: list[np.ndarray[tuple[int], np.dtype[np.float64]]]) -> float:
    away = np.concatenate([one - np.median(one) for one in sessions])
    return max(ROBUST * float(np.median(np.abs(away))), 0.5)
