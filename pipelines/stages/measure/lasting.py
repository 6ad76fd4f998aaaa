"""What lasts: levels now against the first normal and a year ago; ``lasting_difference`` and ``body_lasting`` out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.body.lasting import lasting_stiffness
from pipelines.measures.load.lasting import lasting_load
from pipelines.measures.strokes.lasting import lasting_strokes
from pipelines.measures.trend.lasting import FOLLOWED, lasting_differences
from pipelines.stages.measure.body import checkins_in_turn
from pipelines.stages.measure.load import in_contract
from pipelines.stages.measure.strokes import courses_of, driver_patterns, home_courses
from pipelines.stages.stale import keep_estimates, known_estimates
from schemas.core.lasting import BODY_LASTING, LASTING
from warehouse.connection import frame, replace_table, transaction
from warehouse.in_turn import rows_in_turn

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_POINTS = """
select
  player_id, club_group, metric, series, session_id, on_date, state, "level", level_low, level_high, worthwhile
from trend_point
where on_date <= ? and list_contains(?, metric) and player_id >= ? and player_id < ?
"""
_DAYS = """
select player_id, on_date, swings_all
from load_day
where on_date <= ? and player_id >= ? and player_id < ?
order by player_id, on_date
"""
_MONTHS = "select * from stroke_month where month_on <= ? order by player_id, month_on, course"


def measure_lasting(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write what differs from the first normal and from a year ago."""
    patterns, homes = driver_patterns(con, academy, as_of), home_courses(con, academy)
    estimates = known_estimates(con, "lasting")
    found = [
        *(lasting_differences(points, as_of) for points in rows_in_turn(con, _POINTS, [as_of, list(FOLLOWED)])),
        *(lasting_load(days, as_of) for days in rows_in_turn(con, _DAYS, [as_of])),
        lasting_strokes(frame(con, _MONTHS, [as_of]), patterns, homes, courses_of(academy), as_of, estimates),
    ]
    body = pl.concat([lasting_stiffness(answers, as_of) for answers in checkins_in_turn(con, as_of)])
    rows = pl.concat([in_contract(one, LASTING) for one in found]).sort(*LASTING.grain)
    with transaction(con):
        keep_estimates(con, "lasting", estimates)
        replace_table(con, LASTING.name, rows)
        replace_table(con, BODY_LASTING.name, in_contract(body.sort(BODY_LASTING.grain), BODY_LASTING))
