"""Candidates of the ball's flags, transfer_loss, speed_cost and strokes_*, from ``transfer_month`` and ``stroke_month``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.flags.ball_rules import cost_candidates, stroke_candidates, transfer_candidates
from warehouse.connection import frame, transaction
from warehouse.flags import replace_candidates

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_TRANSFER = "select * from driver_transfer order by player_id, month_on"
_STROKES = "select * from driver_stroke_month order by player_id, month_on"


KINDS: tuple[str, ...] = ("transfer_loss", "speed_cost", "strokes_worse", "strokes_better")


def measure_ball_flags(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write what every finished month up to ``as_of`` says about speed that does not reach the ball, or costs strokes."""
    lost = transfer_candidates(frame(con, _TRANSFER), as_of)
    months = frame(con, _STROKES)
    cost, strokes = cost_candidates(months, as_of), stroke_candidates(months, as_of)
    with transaction(con):
        replace_candidates(con, KINDS, pl.concat([lost, cost, strokes]))
