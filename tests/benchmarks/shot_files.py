"""Invented shot files in any number, for measuring the intake: one session a file, one bad cell in a hundred rows.

Players differ, each has good and bad days, and no two shots have the same readings: what a whole file is judged by is in them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from pathlib import Path

N_PLAYERS = 50
_BAD = ("abc", "999", "nan")


def _readings(player: int, n_rows: int, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Drives of one player on one day: faster players by number, a ball that starts near the face and curves by face to path."""
    own = 38.0 + 16.0 * player / N_PLAYERS
    club_speed = rng.normal(own * rng.normal(1.0, 0.005), 0.025 * own, n_rows)
    ball_speed = club_speed * rng.normal(1.46, 0.015, n_rows).clip(1.3, 1.505)
    path, face = rng.normal(0.0, 2.5, n_rows), rng.normal(0.0, 2.0, n_rows)
    direction, axis = 0.8 * face + 0.2 * path + rng.normal(0.0, 0.4, n_rows), 3.0 * (face - path) + rng.normal(0.0, 2.0, n_rows)
    carry = 3.13 * ball_speed + rng.normal(0.0, 5.0, n_rows)
    return {
        "club_speed_mps": club_speed,
        "ball_speed_mps": ball_speed,
        "launch_deg": rng.normal(12.0, 2.0, n_rows),
        "direction_deg": direction,
        "spin_rpm": rng.normal(2700.0, 300.0, n_rows),
        "spin_axis_deg": axis,
        "carry_m": carry,
        "offline_m": carry * (np.sin(np.radians(direction)) + 0.004 * axis) + rng.normal(0.0, 3.0, n_rows),
        "apex_m": 0.13 * carry + rng.normal(0.0, 2.0, n_rows),
        "descent_deg": rng.normal(38.0, 2.0, n_rows),
        "attack_deg": rng.normal(0.0, 2.0, n_rows),
        "path_deg": path,
        "face_deg": face,
        "loft_deg": rng.normal(13.0, 2.0, n_rows),
        "strike_side_mm": rng.normal(0.0, 8.0, n_rows),
        "strike_height_mm": rng.normal(0.0, 6.0, n_rows),
    }


def _shots(session: int, n_rows: int, rng: np.random.Generator) -> tuple[pl.DataFrame, int]:
    """Shots of one session as text, and how many cells of them are bad."""
    minute = np.arange(n_rows)
    day = f"2026-03-{1 + session % 28:02d}"
    player = session % N_PLAYERS
    bad = pl.Series(rng.random(n_rows) < 0.01)
    frame = pl.DataFrame(
        {
            "session_id": [f"S{session:05d}"] * n_rows,
            "player_id": [f"P{player:02d}"] * n_rows,
            "shot_no": minute + 1,
            "struck_at": [f"{day}T{8 + m // 60:02d}:{m % 60:02d}:00" for m in minute],
            "club": ["driver"] * n_rows,
            **{name: values.round(2) for name, values in _readings(player, n_rows, rng).items()},
            "counts": ["true"] * n_rows,
            **{name: pl.Series([None] * n_rows, dtype=pl.String) for name in ("trial_id", "arm", "block_no")},
        }
    )
    word = pl.Series(rng.choice(_BAD, n_rows))
    launch = pl.when(bad).then(word).otherwise(pl.col("launch_deg").cast(pl.String))
    return frame.with_columns(launch.alias("launch_deg")), int(bad.sum())


def write_shot_files(folder: Path, n_files: int, n_rows: int, seed: int) -> int:
    """Write players, sessions and shot files; returns how many bad cells there are, each of a column that is not required."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True, exist_ok=True)
    players = "".join(f"P{player:02d},Player {player},true\n" for player in range(N_PLAYERS))
    (folder / "players.csv").write_text("player_id,alias,health_consent\n" + players)
    sessions = "".join(
        f"S{number:05d},P{number % N_PLAYERS:02d},2026-03-{1 + number % 28:02d}T08:00:00,range\n" for number in range(n_files)
    )
    (folder / "sessions.csv").write_text("session_id,player_id,started_at,kind\n" + sessions)
    n_bad = 0
    for number in range(n_files):
        shots, n_bad_here = _shots(number, n_rows, rng)
        shots.write_csv(folder / f"shots_{number:05d}.csv")
        n_bad += n_bad_here
    return n_bad
