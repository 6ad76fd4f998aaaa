"""Flags of all nights: the candidates of every area through the one engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.flags.engine import flag_history
from pipelines.measures.flags.left import closed_where_left
from pipelines.measures.flags.order_rules import plan_candidates, quiet_candidates
from pipelines.measures.flags.state import AlertPolicy
from pipelines.stages.stale import keep_estimates, known_estimates
from warehouse.connection import frame, transaction
from warehouse.flags import all_candidate_rows, replace_candidates, replace_flags

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_WEEKS = "select player_id, week_starting, planned, done from finished_plan_week"
_LEFT = "select player_id, left_on from player"
_SIGNS = "select player_id, on_date from sign_day where on_date <= ?"


def measure_flags(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write all flags up to ``as_of`` and what happened to them; every other area has written its candidates before."""
    said = pl.concat([plan_candidates(frame(con, _WEEKS)), _quiet(con, academy, as_of)])
    policy = AlertPolicy(academy.alerts.false_share, academy.alerts.per_week)
    with transaction(con):
        replace_candidates(con, ("plan_gap", "quiet"), said)
    estimates = known_estimates(con, "flags")
    history = flag_history(all_candidate_rows(con), as_of, policy, id_key=academy.id_key, estimates=estimates)
    history = closed_where_left(history, frame(con, _LEFT), as_of)
    with transaction(con):
        keep_estimates(con, "flags", estimates)
        replace_flags(con, history.flags, history.events)


def _quiet(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> pl.DataFrame:
    absences = frame(con, "select player_id, began_on, ended_on from absence where began_on <= ?", [as_of])
    return quiet_candidates(frame(con, _SIGNS, [as_of]), absences, frame(con, _LEFT), academy.alerts.quiet_after_days, as_of)
