"""Comparable carry: shots and the air of their sessions in, ``comparable_shot`` and ``ball_factor`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.measures.carry import (
    READS,
    ball_factors,
    comparable_carry,
    modelled_shots,
    other_models,
    reference_density_kgpm3,
)
from schemas.core.ball import BALL_FACTOR, COMPARABLE_SHOT
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_SHOTS = f"""
select {", ".join(READS)}
from flown_shot
where on_date <= ?
order by on_date, session_id, shot_no
"""


def measure_comparable_carry(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Restate every shot's carry for still reference air, with what ball and device do to it."""
    shots = frame(con, _SHOTS, [as_of])
    modelled = modelled_shots(shots, academy.reference_air, academy.altitude_m, academy.wind_height_m)
    factors = ball_factors(modelled, academy.range_ball_factor)
    others = other_models(modelled, reference_density_kgpm3(academy.reference_air), academy.wind_height_m)
    restated = comparable_carry(modelled, factors, others)
    with transaction(con):
        replace_table(con, COMPARABLE_SHOT.name, restated.select(COMPARABLE_SHOT.names))
        replace_table(con, BALL_FACTOR.name, factors.select(BALL_FACTOR.names))
