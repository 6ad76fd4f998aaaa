"""Score cards beside the tee game: ``round`` and ``driver_stroke_month`` in, ``round_month`` and ``score_gain`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.strokes.rounds import home_cards, round_months, score_gains
from schemas.core.ball import ROUND_MONTH, SCORE_GAIN
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_ROUNDS = 'select * from "round" where played_on <= ? order by player_id, played_on, round_no'
_STROKES = "select * from driver_stroke_month where month_on <= ? order by player_id, month_on"


def measure_score_cards(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write what the cards say by month, and whether the newest change of the drives shows in them."""
    rounds = frame(con, _ROUNDS, [as_of])
    newest = frame(con, _STROKES, [as_of]).group_by("player_id", maintain_order=True).agg(pl.all().last())
    months = round_months(rounds, ROUND_MONTH.polars_schema())
    own = tuple(course.name for course in academy.courses)
    gains = score_gains(home_cards(rounds, newest, own), newest, SCORE_GAIN.polars_schema())
    with transaction(con):
        replace_table(con, ROUND_MONTH.name, months)
        replace_table(con, SCORE_GAIN.name, gains)
