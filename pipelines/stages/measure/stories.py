"""Each player's one record, and what open flags would say today; ``player_story`` and ``flag_now`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.story import POINT_COLUMNS, flags_now, newest_answers, newest_levels, player_stories, sessions_since
from pipelines.stages.measure.load import in_contract
from schemas.core.story import FLAG_NOW, PLAYER_STORY
from warehouse.connection import frame, replace_table, transaction
from warehouse.in_turn import rows_in_turn

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_POINTS = f"""
select
  player_id, metric, club_group, series, session_id, on_date, {", ".join(f'"{name}"' for name in POINT_COLUMNS)}
from told_point
where on_date <= ? and player_id >= ? and player_id < ?
"""
_LASTING = "select * from lasting_difference where now_on <= ?"
_MONTHS = "select * from stroke_month where month_on <= ?"
_HOMES = "select * from home_course"
_FLAGS = "select * from flag"
_WEEKS = "select kind, player_id, on_date, value from flag_candidate where kind = ? and holds and on_date <= ?"
_SPANS = "select kind, player_id, on_date, value from flag_candidate where kind = ? and on_date <= ?"
_ANSWERS = "select player_id, item, on_date, recent from flagged_answer where on_date <= ? and player_id >= ? and player_id < ?"


def measure_stories(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write the record of every player, and the present values of open flags."""
    flags = frame(con, _FLAGS)
    told = [(newest_levels(rows), sessions_since(rows, flags)) for rows in rows_in_turn(con, _POINTS, [as_of])]
    points, since = (pl.concat(parts) for parts in zip(*told, strict=True))
    months, homes = frame(con, _MONTHS, [as_of]), frame(con, _HOMES)
    stories = player_stories(points, frame(con, _LASTING, [as_of]), months, homes)
    answers = pl.concat([newest_answers(rows) for rows in rows_in_turn(con, _ANSWERS, [as_of])])
    spans = pl.concat([frame(con, _WEEKS, ["plan_gap", as_of]), frame(con, _SPANS, ["transfer_loss", as_of])])
    now = flags_now(flags, points, months, homes, answers, spans, since)
    with transaction(con):
        replace_table(con, PLAYER_STORY.name, in_contract(stories, PLAYER_STORY))
        replace_table(con, FLAG_NOW.name, in_contract(now, FLAG_NOW))
