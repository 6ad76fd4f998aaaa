"""Squads made apart from the detectors: ten in a speed block on one device, ten with a device that moved.

Written from what must be shown, seeded, with the frames of ``squads_apart``; and a frame ``device``, what is true of the devices.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl

from tests.benchmarks.detection.squads_apart import (
    DIRECTION_SD,
    SESSION_SD,
    SHOT_CV,
    WILD_SHARE,
    date,
    frames,
    session_days,
    sessions,
)


def _n_shots(rng: np.random.Generator, on: np.ndarray) -> np.ndarray:
    return np.clip(np.round(rng.lognormal(np.log(22), 0.35, on.size)), 6, 60).astype(int)


def _struck(
    rng: np.random.Generator,
    pid: str,
    on: np.ndarray,
    n: np.ndarray,
    level: np.ndarray,
    offset: np.ndarray,
    device: np.ndarray,
    shots: bool,
    out: dict[str, list[Any]],
    ratio_shift: np.ndarray | None = None,
) -> None:
    """Sessions of one player with the usual scatter and the form of the day."""
    form = SESSION_SD * np.exp(rng.normal(0, 0.2)) * rng.normal(size=on.size)
    scatter, wild = np.full(on.size, DIRECTION_SD), np.full(on.size, WILD_SHARE)
    sessions(rng, pid, on, n, level[on] + form, scatter, wild, SHOT_CV, False, offset, device, shots, out, ratio_shift)


def block_squad(seed: int, n_players: int = 40, shots: bool = False, all_gain: bool = False) -> dict[str, pl.DataFrame]:
    """One device; a block of six weeks lifts most players. The device does not move: its true offset is 0 throughout."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, 100]))
    out: dict[str, list[Any]] = {k: [] for k in ("players", "sessions", "events", "levels", "shots")}
    days, block = 300, 160
    share = 1.0 if all_gain else rng.uniform(0.70, 0.90)
    for i in range(n_players):
        pid = f"bl{i:02d}"
        inside = rng.random() < share
        gain = float(np.clip(rng.normal(0.033, 0.010), 0.01, 0.06)) if inside else 0.0
        start = block + int(rng.integers(-5, 6))
        t = np.arange(days)
        level = np.log(rng.uniform(38, 52)) + gain * np.clip((t - start) / 42, 0, 1)
        on = session_days(rng, days, False, None, None)
        n = _n_shots(rng, on)
        _struck(rng, pid, on, n, level, np.zeros(on.size), np.full(on.size, "tower-1"), shots, out)
        _squad_truth(out, pid, inside, gain, start, start + 42, level)
    got = frames(out)
    got["device"] = pl.DataFrame(
        {"device_id": ["tower-1"], "moved_on": [None], "offset_club": [0.0], "offset_ball": [0.0]},
        schema_overrides={"moved_on": pl.Date},
    )
    return got


def moved_squad(seed: int, n_players: int = 40, shots: bool = False) -> dict[str, pl.DataFrame]:
    """Two devices; tower-1 reads off from one day on. Odd seeds: the club reading alone; even seeds: club and ball alike."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, 200]))
    out: dict[str, list[Any]] = {k: [] for k in ("players", "sessions", "events", "levels", "shots")}
    days, moved = 300, int(rng.integers(150, 190))
    offset = float(rng.choice([-1, 1]) * rng.uniform(0.015, 0.030))
    both = seed % 2 == 0
    for i in range(n_players):
        pid = f"mv{i:02d}"
        gains = rng.random() < 0.15
        gain = float(rng.uniform(0.025, 0.04)) if gains else 0.0
        start = int(rng.integers(110, 200))
        t = np.arange(days)
        level = np.log(rng.uniform(38, 52)) + gain * np.clip((t - start) / 42, 0, 1)
        on = session_days(rng, days, False, None, None)
        n = _n_shots(rng, on)
        use = rng.random()
        second = np.full(on.size, use > 0.85) if use > 0.85 or use < 0.35 else rng.random(on.size) < 0.4
        second = second if use >= 0.35 else np.zeros(on.size, bool)
        off = np.where(~second & (on >= moved), offset, 0.0)
        device = np.where(second, "tower-2", "tower-1")
        _struck(rng, pid, on, n, level, off, device, shots, out, off if both else None)
        _squad_truth(out, pid, gains, gain, start, start + 42, level)
        out["players"][-1]["devices"] = "tower-2" if second.all() else "both" if second.any() else "tower-1"
    got = frames(out)
    got["device"] = pl.DataFrame(
        {
            "device_id": ["tower-1", "tower-2"],
            "moved_on": [date(moved), None],
            "offset_club": [offset, 0.0],
            "offset_ball": [offset if both else 0.0, 0.0],
        }
    )
    return got


def _squad_truth(out: dict[str, list[Any]], pid: str, gains: bool, gain: float, start: int, end: int, level: np.ndarray) -> None:
    out["players"].append({"player_id": pid, "gains": gains, "true_gain": gain})
    if gains:
        out["events"].append({"player_id": pid, "kind": "gain", "began_on": date(start), "ended_on": date(end), "amount": gain})
    out["levels"].append(
        pl.DataFrame(
            {"player_id": [pid] * level.size, "on_date": [date(d) for d in range(level.size)], "true_speed_mps": np.exp(level)}
        )
    )
