"""A simulated squad as native files, taken through the real pipeline; its flags."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.flags.engine import flag_history
from pipelines.measures.flags.rules import RULES
from pipelines.measures.flags.state import AlertPolicy
from pipelines.runs import MEASURES, Night, take_in_waiting
from pipelines.settings import default_settings
from pipelines.workspace import create_workspace
from tests.benchmarks.detection.squad import START, Squad
from warehouse.connection import open_warehouse
from warehouse.flags import all_candidate_rows, flag_rows

if TYPE_CHECKING:
    from pathlib import Path

UNLIMITED = 100_000
"""Alerts a week: the benchmark asks what is found, not what a coach wants to read."""


@dataclass(frozen=True)
class Found:
    """Flags, and the candidates from which they come."""

    flags: pl.DataFrame
    candidates: pl.DataFrame
    false_share: float
    last: dt.date

    def at(self, factor: float) -> pl.DataFrame:
        """The flags if an alert needed chances so many times as large (or small)."""
        rules = {kind: replace(rule, largest_p_value=rule.largest_p_value * factor) for kind, rule in RULES.items()}
        return flag_history(self.candidates, self.last, AlertPolicy(self.false_share, UNLIMITED), rules).flags


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


CHART_STEPS: tuple[str, ...] = ("Summarising sessions", "Restating carry", "Following trends", "Raising flags")
"""Steps of the night that the rules of speed, scatter and aim need."""


def taken_through(squad: Squad, folder: Path, steps: tuple[str, ...] = ()) -> Found:
    """What a whole night says of the squad, with an unlimited alert budget; ``steps``: only these of the night (empty: all)."""
    workspace = create_workspace(folder, default_settings("Simulated", "UTC"))
    written(squad, workspace.inbox)
    last = START + dt.timedelta(days=squad.n_days)
    take_in_waiting(Night(workspace, dt.datetime.combine(last, dt.time(23, 0), dt.UTC)))
    academy = workspace.academy()
    academy = replace(academy, alerts=replace(academy.alerts, per_week=UNLIMITED))
    with open_warehouse(workspace.warehouse) as con:
        for step, measure in MEASURES:
            if not steps or step in steps:
                measure(con, academy, last)
        return Found(flag_rows(con), all_candidate_rows(con), academy.alerts.false_share, last)
