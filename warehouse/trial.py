"""What labelling and ending a trial read: the declared trial, and shots of a session or of a file as they were taken in."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from schemas.errors import NotFoundError
from schemas.files import KINDS
from warehouse.connection import frame

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import polars as pl

_SHOTS = ", ".join(f'"{name}"' for name in KINDS["shots"].names)


def declared_trial(con: duckdb.DuckDBPyConnection, trial_id: str) -> dict[str, Any]:
    """The row of a trial.

    Raises
    ------
    NotFoundError
        When no trials file has declared it yet.
    """
    rows = frame(con, "select * from trial where trial_id = ?", [trial_id])
    if rows.is_empty():
        raise NotFoundError(f"No trial {trial_id} is declared.", "Plan it with `speedworth trial plan`, then `speedworth run`.")
    return rows.row(0, named=True)


def shots_of_session(con: duckdb.DuckDBPyConnection, session_id: str) -> pl.DataFrame:
    """Shots of one session, with the columns of a shots file."""
    return frame(con, f"select {_SHOTS} from shot where session_id = ? order by struck_at, shot_no", [session_id])


def shots_of_file(con: duckdb.DuckDBPyConnection, file_id: str) -> pl.DataFrame:
    """Shots that one file brought and that still stand, with the columns of a shots file."""
    return frame(con, f"select {_SHOTS} from shot where file_id = ? order by session_id, struck_at, shot_no", [file_id])


def sessions_of_player(con: duckdb.DuckDBPyConnection, player_id: str, trial_id: str, day: date) -> pl.DataFrame:
    """Sessions with shots within a day of ``day``: session_id, started_at, device_id, n_shots, and how many are of the trial."""
    query = """
    select session_day.session_id, session_day.started_at, session_day.on_date, session_day.device_id,
      count(*) as n_shots, count(*) filter (where shot.trial_id = ? and shot.arm is not null) as n_labelled
    from shot
    join session_day using (session_id)
    where shot.player_id = ? and session_day.on_date between ? and ?
    group by all
    order by session_day.started_at, session_day.session_id
    """
    return frame(con, query, [trial_id, player_id, day - timedelta(days=1), day + timedelta(days=1)])
