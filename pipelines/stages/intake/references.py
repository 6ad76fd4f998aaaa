"""What the rows of a batch may refer to, and what is known of their players: asked of the warehouse before they are judged."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.check import Known
from pipelines.stages.intake.implied import sessions_in_rows
from pipelines.stages.intake.own_sessions import MOST_MET, READINGS
from pipelines.stages.intake.refused import Refused
from warehouse.consent import flags_of, groups_with_players, refused_players
from warehouse.files import aliases, birth_years, leaving_days, players, sessions, side_history
from warehouse.usual_shots import flown_lately, same_readings, session_air, usual_shots

if TYPE_CHECKING:
    from datetime import datetime

    import duckdb

    from pipelines.stages.intake.batch import Incoming, Rows
    from pipelines.stages.intake.reading import Readings
    from schemas.files import FileKind


def known_for(
    con: duckdb.DuckDBPyConnection,
    kind: FileKind,
    batch: list[Incoming],
    rows: Rows,
    now: datetime,
    readings: Readings,
) -> Known:
    """What the rows of a batch may refer to."""
    if kind.name == "decisions" and (refused := refused_players(con)):
        return Known(players(con), None, now, refused=Refused(refused, *flags_of(con, refused)))
    if kind.name == "players":
        return Known(players(con), None, now, aliases=aliases(con), named=readings.courses)
    if kind.name == "plans":
        return Known(players(con), None, now, named=groups_with_players(con))
    if kind.name != "shots" or "session_id" not in rows.cells.columns:
        return Known(players(con), None, now, altitude_m=readings.altitude_m, left=leaving_days(con))
    there = sessions(con, rows.cells["session_id"].str.strip_chars())
    everybody = players(con)
    met = Known(everybody, sessions_in_rows(batch, rows, there), now)
    if met.sessions is None or met.sessions.is_empty():
        return met
    ids = met.sessions["player_id"]  # an export's mapping may make its sessions: they are met before they are there
    return replace(
        met,
        history=side_history(con, ids),
        usual=usual_shots(con, everybody["player_id"]),
        born=birth_years(con),
        flown=flown_lately(con, ids, _text(rows, "club")),
        air=session_air(con, there["session_id"]),
        wind_height_m=readings.wind_height_m,
        readings=same_readings(
            con, pl.DataFrame([_text(rows, name).cast(pl.Float64, strict=False) for name in READINGS]), MOST_MET
        ),
    )


def _text(rows: Rows, column: str) -> pl.Series:
    """A column of the cells; empty cells where the files have none of that name."""
    if column in rows.cells.columns:
        return rows.cells[column].str.strip_chars()
    return pl.Series(column, [None], dtype=pl.String).new_from_index(0, rows.cells.height)
