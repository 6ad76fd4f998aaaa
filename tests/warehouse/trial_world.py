"""A few players with trials, laid into a warehouse: one to keep, one that only the shots name, one planned."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.trial.design import TrialDesign, trial_design
from pipelines.measures.trial.noise import PlayerNoise
from schemas.academy import Academy
from tests.reference.simulated_trials import TrueChange, simulated_trial
from warehouse.connection import insert_frame

if TYPE_CHECKING:
    import duckdb

ACADEMY = Academy(name="Test", time_zone="UTC")
NIGHT = date(2026, 12, 31)
FILE: dict[str, Any] = {"file_id": "f", "line": 2}
DRIVE: dict[str, Any] = {"club": "driver"}


def at(day: date, hour: int) -> datetime:
    return datetime(day.year, day.month, day.day, hour)  # noqa: DTZ001 - instants are UTC without a zone


def session(
    con: duckdb.DuckDBPyConnection, session_id: str, player: str, day: date, kind: str = "trial", swings: int = 80
) -> None:
    row = {
        "session_id": session_id, "player_id": player, "started_at": at(day, 9), "kind": kind,
        "device_id": "d1", "ball": "range", "swings_full": swings, **FILE,
    }  # fmt: skip
    insert_frame(con, "session", pl.DataFrame([row]))


def player(con: duckdb.DuckDBPyConnection, player_id: str) -> None:
    insert_frame(con, "player", pl.DataFrame([{"player_id": player_id, "alias": player_id.upper(), "standard": "80", **FILE}]))


def strike(
    con: duckdb.DuckDBPyConnection, trial_id: str, player_id: str, design: TrialDesign, change: TrueChange, seed: int
) -> None:
    arm = next(name for name in design.arms if name != "normal")
    shots = simulated_trial(design, PlayerNoise(), {arm: change}, np.random.default_rng(seed))
    shots = shots.with_columns(
        pl.format("{}-{}", pl.lit(trial_id), "session_id").alias("session_id"),
        pl.lit(trial_id).alias("trial_id"),
        pl.lit(player_id).alias("player_id"),
        pl.lit("f").alias("file_id"),
        pl.int_range(2, pl.len() + 2).alias("line"),
    )
    for name, day in shots.select("session_id", "on_date").unique(maintain_order=True).rows():
        session(con, name, player_id, day)
        warm_up = [
            {"session_id": name, "player_id": player_id, "shot_no": n, "counts": False, **DRIVE, **FILE,
             "struck_at": at(day, 8), "club_speed_mps": 40.0}
            for n in range(1, 9)
        ]  # fmt: skip
        insert_frame(con, "shot", pl.DataFrame(warm_up))
    insert_frame(con, "shot", shots.drop("on_date", "device_id", "ball"))


def declare(con: duckdb.DuckDBPyConnection, trial_id: str, player_id: str, arms: str, question: str = "wider stance") -> None:
    row = {
        "trial_id": trial_id, "player_id": player_id, "question": question, "normal_arm": "normal", "arms": arms,
        "began_on": date(2026, 1, 6), **FILE,
    }  # fmt: skip
    insert_frame(con, "trial", pl.DataFrame([row]))


def lay_trials(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("insert into academy values ('Test', 'UTC')").fetchall()
    for player_id in ("p1", "p2", "p3"):
        player(con, player_id)
    design = trial_design(("normal", "wider"), "normal", 40, 5)
    declare(con, "kept", "p1", "normal | wider")
    strike(con, "kept", "p1", design, TrueChange(3.0), 5)
    strike(con, "unnamed", "p2", design, TrueChange(3.0, left_right=2.2), 6)
    declare(con, "planned", "p3", "normal | wider")
