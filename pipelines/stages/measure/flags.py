"""Flags of all nights: the candidates of every area through the one engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.flags.engine import AlertPolicy, flag_history
from pipelines.measures.flags.order_rules import plan_candidates, quiet_candidates
from warehouse.connection import frame, transaction
from warehouse.flags import all_candidate_rows, replace_candidates, replace_flags

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

# Weeks that are over and have a plan; a week with an absence in it, or without any row, says nothing about the plan.
_WEEKS = """
select
  plan.player_id,
  plan.week_starting,
  cast(any_value(plan.swings_full) as double) as planned,
  cast(sum(coalesce(session_day.swings_full, 0)) as double) as done
from plan
join session_day
  on session_day.player_id = plan.player_id
  and session_day.on_date between plan.week_starting and plan.week_starting + 6
where plan.week_starting + 6 <= $as_of
  and plan.swings_full is not null
  and not exists (
    select 1 from absence
    where absence.player_id = plan.player_id
      and absence.began_on <= plan.week_starting + 6
      and coalesce(absence.ended_on, $as_of) >= plan.week_starting
  )
group by plan.player_id, plan.week_starting
"""

_SIGNS = "select player_id, on_date from sign_day where on_date <= ?"


def measure_flags(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write all flags up to ``as_of`` and what happened to them; every other area has written its candidates before."""
    said = pl.concat([plan_candidates(_frame(con, _WEEKS, as_of)), _quiet(con, academy, as_of)])
    policy = AlertPolicy(academy.alerts.false_share, academy.alerts.per_week)
    with transaction(con):
        replace_candidates(con, ("plan_gap", "quiet"), said)
    history = flag_history(all_candidate_rows(con), as_of, policy)
    with transaction(con):
        replace_flags(con, history.flags, history.events)


def _frame(con: duckdb.DuckDBPyConnection, sql: str, as_of: date) -> pl.DataFrame:
    return frame(con, sql.replace("$as_of", f"date '{as_of.isoformat()}'"))


def _quiet(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> pl.DataFrame:
    absences = frame(con, "select player_id, began_on, ended_on from absence where began_on <= ?", [as_of])
    players = frame(con, "select player_id, left_on from player")
    return quiet_candidates(frame(con, _SIGNS, [as_of]), absences, players, academy.alerts.quiet_after_days, as_of)
