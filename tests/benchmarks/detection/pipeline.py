"""A simulated squad as native files, taken through the real pipeline; its flags."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from pipelines.runs import MEASURES, Night, take_in_waiting
from pipelines.settings import default_settings
from pipelines.workspace import create_workspace
from tests.benchmarks.detection.squad import START, Squad
from warehouse.connection import open_warehouse
from warehouse.flags import flag_rows

if TYPE_CHECKING:
    from pathlib import Path

UNLIMITED = 100_000
"""Alerts a week: the benchmark asks what is found, not what a coach wants to read."""


def written(squad: Squad, inbox: Path) -> None:
    """One file of players, and one of sessions and shots for each month."""
    players = pl.DataFrame(
        {
            "player_id": [truth.player_id for truth in squad.truths],
            "alias": [f"Player {truth.player_id}" for truth in squad.truths],
        }
    )
    players.with_columns(pl.lit(START).alias("joined_on"), pl.lit("80").alias("standard")).write_csv(inbox / "players_all.csv")
    month = pl.col("started_at").dt.strftime("%Y-%m")
    for (name,), sessions in squad.sessions.with_columns(month.alias("month")).group_by("month"):
        shots = squad.shots.join(sessions.select("session_id"), on="session_id", how="semi")
        stamped = sessions.drop("month").with_columns(pl.col("started_at").dt.strftime("%Y-%m-%dT%H:%M:%SZ"))
        stamped.write_csv(inbox / f"sessions_{name}.csv")
        shots.with_columns(pl.col("struck_at").dt.strftime("%Y-%m-%dT%H:%M:%SZ")).write_csv(inbox / f"shots_{name}.csv")


def flags_of(squad: Squad, folder: Path, steps: tuple[str, ...] = ()) -> pl.DataFrame:
    """All flags on the last night, with an unlimited alert budget; ``steps``: only these of the night (empty: all)."""
    workspace = create_workspace(folder, default_settings("Simulated", "UTC"))
    written(squad, workspace.inbox)
    last = START + dt.timedelta(days=squad.n_days)
    now = dt.datetime.combine(last, dt.time(23, 0), dt.UTC)
    take_in_waiting(Night(workspace, now))
    academy = workspace.academy()
    academy = replace(academy, alerts=replace(academy.alerts, per_week=UNLIMITED))
    with open_warehouse(workspace.warehouse) as con:
        for step, measure in MEASURES:
            if not steps or step in steps:
                measure(con, academy, last)
        return flag_rows(con)
