"""Invented shot files in any number, for measuring the intake: one session a file, one bad cell in a hundred rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from pathlib import Path

N_PLAYERS = 50
_BAD = ("abc", "999", "nan")
_NUMBERS = {
    "launch_deg": (12.0, 3.0),
    "direction_deg": (0.0, 3.0),
    "spin_rpm": (2700.0, 400.0),
    "spin_axis_deg": (0.0, 8.0),
    "carry_m": (215.0, 8.0),
    "offline_m": (0.0, 12.0),
    "apex_m": (28.0, 3.0),
    "descent_deg": (38.0, 3.0),
    "attack_deg": (0.0, 2.0),
    "path_deg": (0.0, 2.5),
    "face_deg": (0.0, 2.0),
    "loft_deg": (13.0, 2.0),
    "strike_side_mm": (0.0, 8.0),
    "strike_height_mm": (0.0, 6.0),
}


def _shots(session: int, n_rows: int, rng: np.random.Generator) -> pl.DataFrame:
    club_speed = np.round(rng.normal(47, 1.2, n_rows).clip(35, 60), 2)
    minute = np.arange(n_rows)
    text = {
        name: np.char.mod("%.2f", rng.normal(middle, spread, n_rows).clip(-19.5, None))
        for name, (middle, spread) in _NUMBERS.items()
    }
    frame = pl.DataFrame(
        {
            "session_id": [f"S{session:05d}"] * n_rows,
            "player_id": [f"P{session % N_PLAYERS:02d}"] * n_rows,
            "shot_no": np.arange(1, n_rows + 1).astype(str),
            "struck_at": [f"2026-03-{1 + session % 28:02d}T{8 + m // 60:02d}:{m % 60:02d}:00" for m in minute],
            "club": ["driver"] * n_rows,
            "club_speed_mps": np.char.mod("%.2f", club_speed),
            "ball_speed_mps": np.char.mod("%.2f", club_speed * 1.46),
            **text,
            "counts": ["true"] * n_rows,
            "trial_id": pl.Series([None] * n_rows, dtype=pl.String),
            "arm": pl.Series([None] * n_rows, dtype=pl.String),
            "block_no": pl.Series([None] * n_rows, dtype=pl.String),
        }
    )
    bad = rng.random(n_rows) < 0.01
    word = rng.choice(_BAD, n_rows)
    return frame.with_columns(pl.when(pl.Series(bad)).then(pl.Series(word)).otherwise("launch_deg").alias("launch_deg"))


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
    template = [_shots(0, n_rows, rng) for _ in range(20)]
    for number in range(n_files):
        shots = template[number % len(template)].with_columns(
            pl.lit(f"S{number:05d}").alias("session_id"),
            pl.lit(f"P{number % N_PLAYERS:02d}").alias("player_id"),
            pl.col("struck_at").str.replace("2026-03-01", f"2026-03-{1 + number % 28:02d}"),
        )
        n_bad += int(shots["launch_deg"].is_in(list(_BAD)).sum())
        shots.write_csv(folder / f"shots_{number:05d}.csv")
    return n_bad
