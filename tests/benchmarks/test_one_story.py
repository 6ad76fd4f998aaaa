"""Simulated squads of several makings taken through a whole night: no two sentences of their pages are in conflict.

``pytest -m benchmark -s tests/benchmarks/test_one_story.py``
"""

from __future__ import annotations

import datetime as dt
import sys
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.runs import Night, run_night
from pipelines.settings import default_settings
from pipelines.workspace import create_workspace
from reports.words import words
from tests.benchmarks.detection.makings import MAKINGS, START, made
from tests.report.said import compared, site_pages

if TYPE_CHECKING:
    from pathlib import Path

    from tests.benchmarks.detection.makings import Made

pytestmark = pytest.mark.benchmark

SQUADS = (("normal", 51), ("heavy tails", 52), ("juniors", 53), ("ageing", 54), ("season", 55))


def written(squad: Made, inbox: Path) -> None:
    """The squad as native files."""
    players = [(truth.player_id, f"Player {truth.player_id}", truth.birth_year) for truth in squad.truths]
    frame = pl.DataFrame(players, schema=["player_id", "alias", "birth_year"], orient="row")
    frame.with_columns(joined_on=pl.lit(START), standard=pl.lit("80")).write_csv(inbox / "players_all.csv")
    stamp = "%Y-%m-%dT%H:%M:%SZ"
    squad.sessions.with_columns(pl.col("started_at").dt.strftime(stamp)).write_csv(inbox / "sessions_all.csv")
    squad.shots.with_columns(pl.col("struck_at").dt.strftime(stamp)).write_csv(inbox / "shots_all.csv")


@pytest.mark.parametrize(("name", "seed"), SQUADS)
def test_no_two_sentences_are_in_conflict(name: str, seed: int, tmp_path: Path) -> None:
    making = MAKINGS[name]
    workspace = create_workspace(tmp_path / "squad", default_settings("Simulated", "UTC"))
    written(made(making, seed, n_players=20), workspace.inbox)
    last = START + dt.timedelta(days=making.n_days)
    run_night(Night(workspace, dt.datetime.combine(last, dt.time(23), dt.UTC)))
    told = compared(*site_pages(workspace.root), words("en"))
    said = f"\n{name}, seed {seed}: {sum(told.made.values())} comparisons, {len(told.conflicts)} in conflict; {dict(told.made)}\n"
    sys.stdout.write(said)
    assert told.conflicts == []
    assert told.made["one level"] == 20
