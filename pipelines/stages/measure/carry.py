"""Comparable carry: shots and the air of their sessions in; flights, what is told of balls, and ``comparable_shot`` out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import polars as pl
import polars.selectors as cs

from pipelines.measures.carry import (
    assumed_spins,
    ball_cells,
    ball_factors,
    comparable_carry,
    model_ratios,
    modelled_shots,
    other_models,
    reference_density_kgpm3,
)
from pipelines.stages.stale import Apart, Read, begin, end, keep_estimates, known_estimates, renew
from schemas.core.ball import BALL_CELL, BALL_FACTOR, COMPARABLE_SHOT, SHOT_FLIGHT
from warehouse.connection import frame, replace_table, transaction
from warehouse.in_turn import rows_in_turn

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import duckdb

    from pipelines.measures.estimates import Estimates
    from schemas.academy import Academy

FLIGHTS = "flights"
SESSION = ("player_id", "session_id")
_PAIR = ("month_on", "device_id", "ball")
_BLOCKS_AT_ONCE = 4
"""Of shots more columns are read than elsewhere: a hundred players' rows, and as much again to order them, took most memory."""
_BLOCKS_AHEAD = 4
"""So many keep the crew at work while this process counts load and reads reports."""
_PLAYERS_IN_TURN = 500
"""Medians hold all values that they are told of: of a large squad more than the database may hold."""
_DIGITS_KEPT, _DIGITS_TOLD = 9, 6
"""Decimals of flights, and of restated shots (a micrometre): the last bits hang on which shots are computed together."""
_USED = ("factor", "factor_source", "model_level")
_FLOWN = (
    *("session_id", "player_id", "shot_no", "club", "on_date", "device_id", "ball", "indoors", "counts", "carry_m"),
    *("club_speed_mps", "ball_speed_mps", "launch_deg", "direction_deg", "spin_rpm", "spin_axis_deg"),
    *("air_temp_c", "air_pressure_hpa", "humidity_pct", "altitude_m", "wind_mps", "wind_from_deg"),
)
_MODELLED = (
    *("session_id", "player_id", "shot_no", "club", "club_group", "on_date", "device_id", "ball", "indoors"),
    *("spin_rpm", "carry_m", "offline_m", "air_density_kgpm3"),
    *("model_carry_m", "model_offline_m", "model_run_m", "day_carry_m", "day_offline_m", "flight_reason"),
)
_CELLS = "select * from ball_cell order by player_id, session_id, club, device_id, ball"
_DAY_SPINS = """
select player_id, club, on_date, spin_rpm
from day_spin
where on_date <= ? and player_id >= ? and player_id < ?
"""
_SPINLESS = "select player_id, session_id, club, on_date from spinless_session where on_date <= ?"


def flights(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> Apart:
    """Every shot flown: of a session, for its shots have one air and one ball."""
    shots = Read("flown_shot", ("on_date", "session_id", "shot_no"), ("on_date", as_of), columns=_FLOWN)
    daily = pl.concat(list(rows_in_turn(con, _DAY_SPINS, [as_of], _PLAYERS_IN_TURN)))
    spins = assumed_spins(daily, frame(con, _SPINLESS, [as_of]))
    measure = partial(flight_rows, academy=academy)
    rests_on = f"{academy.reference_air!r}|{academy.altitude_m}|{academy.wind_height_m}"
    reads: dict[str, Read | pl.DataFrame] = {"shots": shots, "spins": spins}
    tables = (SHOT_FLIGHT, BALL_CELL)
    return Apart(FLIGHTS, tables, reads, measure, rests_on, by=SESSION, blocks_at_once=_BLOCKS_AT_ONCE)


def flight_rows(read: Mapping[str, pl.DataFrame], academy: Academy) -> dict[str, pl.DataFrame]:
    """Rows of ``shot_flight`` and ``ball_cell``."""
    modelled = modelled_shots(read["shots"], read["spins"], academy.reference_air, academy.altitude_m, academy.wind_height_m)
    ratios = model_ratios(modelled, reference_density_kgpm3(academy.reference_air), academy.wind_height_m)
    flown = modelled.with_columns(cs.float().round(_DIGITS_KEPT))
    return {SHOT_FLIGHT.name: flown, BALL_CELL.name: ball_cells(modelled, ratios).with_columns(cs.float().round(_DIGITS_KEPT))}


def restated(cells: pl.DataFrame, factors: pl.DataFrame, flown: pl.DataFrame, as_of: date) -> Apart:
    """Comparable carry: of a session, from its flights (``flown``: their digests), the factor of its ball, and other models."""
    sessions = cells.select(*SESSION, *_PAIR).unique()
    of_ball = sessions.join(factors.select(*_PAIR, *_USED), on=list(_PAIR), how="left", nulls_equal=True)
    shots = Read("modelled_shot", ("on_date", "session_id", "shot_no"), ("on_date", as_of), told=False, columns=_MODELLED)
    reads: dict[str, Read | pl.DataFrame] = {
        "flown": flown.select(*SESSION, "digest"),
        "shots": shots,
        "factors": of_ball,
        "others": other_models(cells),
    }
    return Apart("carry", (COMPARABLE_SHOT,), reads, comparable_rows, "", by=SESSION, blocks_at_once=_BLOCKS_AT_ONCE)


def comparable_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``comparable_shot``."""
    factors = read["factors"].select(*_PAIR, *_USED).unique(maintain_order=True)
    restated_shots = comparable_carry(read["shots"], factors, read["others"].drop("player_id"))
    return {COMPARABLE_SHOT.name: restated_shots.with_columns(cs.float().round(_DIGITS_TOLD))}


def cells_and_factors(
    con: duckdb.DuckDBPyConnection, academy: Academy, estimates: Estimates | None = None
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """What sessions tell of balls, and what the squad makes of it; ``estimates``: those of before, that stand."""
    cells = frame(con, _CELLS)
    return cells, ball_factors(cells, academy.range_ball_factor, estimates)


def begin_flights(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Let the crew begin to fly: all that is read are shots and the air of their sessions."""
    begin(con, flights(con, academy, as_of), _BLOCKS_AHEAD)


def measure_comparable_carry(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Restate every shot's carry for still reference air, with what ball and device do to it."""
    flown = end(con, FLIGHTS, lambda: flights(con, academy, as_of))
    estimates = known_estimates(con, "balls of devices")
    cells, factors = cells_and_factors(con, academy, estimates)
    with transaction(con):
        keep_estimates(con, "balls of devices", estimates)
        replace_table(con, BALL_FACTOR.name, factors.select(BALL_FACTOR.names))
    renew(con, restated(cells, factors, flown, as_of))
