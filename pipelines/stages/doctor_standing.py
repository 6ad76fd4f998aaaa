"""Whether rows that stand are what would be computed now: a sample of players, stage by stage. Changes nothing."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.finding import Finding
from pipelines.stages.measure.body import answers_differing
from pipelines.stages.measure.carry import cells_and_factors, flights, restated
from pipelines.stages.measure.load import days_differing, loads_of_players
from pipelines.stages.measure.patterns import swings_and_patterns
from pipelines.stages.measure.strokes import driver_patterns, strokes_by_player_month, tradeoff_by_player
from pipelines.stages.measure.summaries import balls_of_months, summaries
from pipelines.stages.measure.transfer import transfers_of_players
from pipelines.stages.measure.trends import squad_trends, trends_by_player
from pipelines.stages.measure.trials import trials_by_player
from pipelines.stages.stale import differing, known_estimates, unit_digests
from schemas.errors import WarehouseCorruptError
from warehouse.connection import frame
from warehouse.night import stored_night
from warehouse.units import sessions_told

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    import duckdb

    from pipelines.stages.stale import Apart
    from pipelines.workspace import Workspace
    from schemas.academy import Academy

N_PLAYERS = 3


def standing_findings(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Finding]:
    """Rows of some players, another few after each night, computed again and held against those that stand."""
    night = stored_night(con)
    if night is None:
        return []
    academy = replace(workspace.academy(), id_key=workspace.id_key())
    players = frame(con, "select player_id from player order by player_id").to_series()
    some = pl.Series("player_id", random.Random(night[0]).sample(players.to_list(), min(N_PLAYERS, len(players))), pl.String)  # noqa: S311
    n_units, names = 0, answers_differing(con, night[1])
    with sessions_told(con):
        names += days_differing(con, academy, night[1])
        for apart in _aparts(con, academy, night[1]):
            n, differ = differing(con, apart, some)
            n_units, names = n_units + n, names + differ
    if names:
        says = f"rows of {', '.join(sorted(set(names)))} are not what is computed from the same files"
        return [Finding("standing rows", says, "broken", "Compute all anew with `speedworth run --full`.", _CODE)]
    return [Finding("standing rows", f"{n_units} of {len(some)} players computed again: the same")]


_CODE = WarehouseCorruptError.exit_code


def _aparts(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> Iterator[Apart]:
    patterns = driver_patterns(con, academy, as_of)
    yield balls_of_months(as_of)
    yield summaries(con, as_of, known_estimates(con, "balls"))
    yield loads_of_players(as_of)
    air = flights(con, academy, as_of)
    yield air
    yield restated(*cells_and_factors(con, academy), unit_digests(con, air), as_of)
    yield from swings_and_patterns(con, as_of)
    yield trends_by_player(squad_trends(con, academy, as_of).parts)
    yield transfers_of_players(con, as_of)
    yield strokes_by_player_month(patterns, academy)
    yield tradeoff_by_player(patterns, academy)
    yield trials_by_player(con, academy, as_of)
