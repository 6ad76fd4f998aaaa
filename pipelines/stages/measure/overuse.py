"""Signs of one player together: candidates of load, stiffness and speed in; candidates of ``overuse_pattern`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.body.items import body_items
from pipelines.measures.flags.pattern_rules import Judged, events_on_grid, overuse_patterns, within_days
from pipelines.measures.load.grid import day_grid
from pipelines.measures.load.windows import MONTH_AT_LEAST, MONTH_DAYS
from pipelines.stages.measure.body import checkin_rows
from warehouse.connection import frame, transaction
from warehouse.flags import replace_candidates

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_TIMED = "select player_id, on_date from timed_day where on_date <= ?"
_LOAD_KNOWN = "select player_id, on_date from load_day where days_known_28 >= ? and on_date <= ?"


def measure_overuse(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write what the rule on signs together says of each night; call it after load, body and trends, before the flags."""
    checkins = checkin_rows(con, as_of)
    rows = pl.DataFrame(schema=frame(con, "select * from flag_candidate limit 0").schema)
    if not checkins.is_empty():
        rows = _patterns(con, checkins, as_of)
    with transaction(con):
        replace_candidates(con, ("overuse_pattern",), rows)


def _patterns(con: duckdb.DuckDBPyConnection, checkins: pl.DataFrame, as_of: date) -> pl.DataFrame:
    first_on = checkins["on_date"].min()
    grid = day_grid(checkins["player_id"], first_on, as_of)  # type: ignore[arg-type] # a date column
    spoken = {
        kind: frame(con, "select * from flag_candidate where kind = ? and on_date between ? and ?", [kind, first_on, as_of])
        for kind in ("load_jump", "body_stiff", "speed_fall")
    }
    judged = Judged(
        load=events_on_grid(frame(con, _LOAD_KNOWN, [MONTH_AT_LEAST, as_of]), grid),
        speed=within_days(events_on_grid(frame(con, _TIMED, [as_of]), grid), MONTH_DAYS),
    )
    sleep = next(body_items(checkins, grid, ("sleep_h",)))
    return overuse_patterns(grid, spoken["load_jump"], spoken["body_stiff"], spoken["speed_fall"], sleep, judged)
